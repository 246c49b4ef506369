/** What other software may use: the documents, and a door to each thing that is done with them. */

export { checkPlan } from './check/check.js';
export { checkRecut } from './check/recut/recut.js';
export { type CheckReport, type Finding, findingText, reportText, type Verified } from './check/report.js';
export { type CheckCode, comparisonRules, recutRules, rules } from './check/rules.js';
export { answerJsonSchema, type CommandAnswer } from './documents/answer/schema.js';
export { checkBatch, readBatch } from './documents/batch/read.js';
export { type BatchDocument, batchJsonSchema } from './documents/batch/schema.js';
export { checkComparisonDocument } from './documents/comparison/read.js';
export { comparisonJsonSchema } from './documents/comparison/schema.js';
export type * from './documents/comparison/types.js';
export { type HoursComparison, hoursJsonSchema } from './documents/hours/schema.js';
export type { JsonSchema } from './documents/json-schema.js';
export type * from './documents/plan/pooled.js';
export { checkPlanDocument, readPlan } from './documents/plan/read.js';
export { planJsonSchema } from './documents/plan/schema.js';
export type * from './documents/plan/types.js';
export type { QuoteAgainst } from './documents/quote/against.js';
export { type Quote, quoteJsonSchema } from './documents/quote/schema.js';
export { type FrameRails, frameRailsJsonSchema } from './documents/rails/schema.js';
export { checkRecutDocument, readPlanOrRecut } from './documents/recut/read.js';
export { recutJsonSchema } from './documents/recut/schema.js';
export type * from './documents/recut/types.js';
export { sawJsonSchema } from './documents/saw/schema.js';
export type * from './documents/saw/types.js';
export { catalogue, type ErrorCode, type InputProblem, PairstopError } from './errors.js';
export type { Exact } from './lengths/exact.js';
export { formatLength } from './lengths/format.js';
export { parseLength } from './lengths/parse.js';
export { type Notice, type NoticeCode, notices } from './notices.js';
export { checkComparison } from './processes/check-comparison.js';
export { type CompareBatchOptions, compareBatch } from './processes/compare-batch.js';
export { compareHours } from './processes/hours-batch.js';
export { type PlanBatchOptions, planBatch } from './processes/plan-batch.js';
export type * from './processes/progress.js';
export { type QuoteBatchOptions, quoteBatch } from './processes/quote-batch.js';
export { type RecutBatchOptions, recutBatch } from './processes/recut-batch.js';
export type { WorkKind } from './processes/solver/tasks.js';
export { createClient, submitBatch } from './queue/client/client.js';
export type {
  CancelChoice,
  Client,
  ResultOptions,
  RevisionChoice,
  Submission,
  SubmitOptions,
  WorkChoice,
} from './queue/client/client-api.js';
export type { BatchPage, PagedBatch, PageOptions } from './queue/client/list.js';
export type { ClientOptions } from './queue/client/options.js';
export type { BatchStatus, QueueDepth, ServiceStatus } from './queue/client/status.js';
export type { UncutPlans } from './queue/client/to-saw.js';
export type { WatchOptions } from './queue/client/watch.js';
export type { QuoteOptions } from './queue/night/ask-quote.js';
export type {
  NightChoices,
  NightDesk,
  NightOfPool,
  NightStatus,
  WaitingBatch,
} from './queue/night/desk-api.js';
export type {
  CountOptions,
  CutOptions,
  NewPiece,
  PieceChanges,
  RackCutting,
  RackDelivery,
  RackDesk,
  RackFilter,
  RackItem,
  RackMeasured,
  RackRecutOptions,
  RackSigned,
  ReceiveOptions,
} from './queue/rack/desk-api.js';
export type { ListedError } from './queue/record/errors-list.js';
export type { Failure } from './queue/record/figures.js';
export type { Heartbeat } from './queue/record/health.js';
export type { BatchState } from './queue/record/steps.js';
export type { RedisAddress, SentinelHost } from './queue/redis/address.js';
export type { RackAudit, RackFinding } from './rack/audit.js';
export type { WoodBalance } from './rack/balance.js';
export type { CountedPiece, CountScope, RackCount } from './rack/counting.js';
export type { JournalEntry, RackEvent } from './rack/events.js';
export { pieceCode, pieceIdOf } from './rack/names.js';
export type { DeliveredSticks } from './rack/receiving.js';
export { withPlanRack } from './rack/shop-pieces.js';
export type { KeptBeside } from './rack/store/rack-store.js';
export type { ExpectedLine, PieceState, Provenance, RackPiece, WoodAccount } from './rack/terms.js';
export type { RecutRequest } from './recut/recut.js';
export { readTold, type Told, toldAs } from './recut/told-lines.js';
export { type SawOptions, sawCheck } from './saw/saw.js';
export type { CardFiles } from './sheet/card/build.js';
export { type LabelGrid, type LabelTexts, labelGrid } from './sheet/labels/grid.js';
export { labelsHtml } from './sheet/labels/page.js';
export {
  LIST_KINDS,
  type List,
  type ListCell,
  type ListColumn,
  type ListKind,
  listsOf,
} from './sheet/lists/lists.js';
export { listCsv, listsJson } from './sheet/lists/write.js';
export { cardScript } from './sheet/script.js';
export { type SheetOptions, sheetHtml } from './sheet/sheet.js';
export { showComparison } from './show/comparison.js';
export { comparisonSvg } from './show/comparison-chart.js';
export { showPlan } from './show/plan.js';
export { showBatchPart } from './show/pooled.js';
export { showQuote } from './show/quote.js';
export { showRecut } from './show/recut.js';
export { showSawCheck } from './show/saw.js';
export type * from './terms.js';
export { VERSION } from './version.js';
