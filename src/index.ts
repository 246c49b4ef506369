/** What other software may use. Everything else under `dist` may change without notice. */
export { checkPlan } from './check/check.js';
export { type CheckReport, type Finding, findingText, reportText } from './check/report.js';
export { type CheckCode, rules } from './check/rules.js';
export { comparisonSvg } from './compare/svg.js';
export { showComparison } from './compare/table.js';
export type {
  BreakEven,
  Comparison,
  Footage,
  Growth,
  MouldingComparison,
  Recommendation,
  Scenario,
  Spare,
  SupplierRow,
  WhatIf,
} from './compare/types.js';
export { catalogue, type ErrorCode, PairstopError, type Problem } from './errors.js';
export { formatLength } from './lengths/format.js';
export { parseLength } from './lengths/parse.js';
export { notices } from './plan/notices.js';
export type {
  HandlingFigures,
  MergingFigures,
  MouldingPlan,
  Notice,
  PlacedRail,
  Plan,
  PlannedPair,
  PlannedStick,
  PlannedStop,
  PlanProof,
  Purchase,
  Remainder,
  Shortfall,
  Totals,
  WayOfCutting,
} from './plan/types.js';
export {
  type Client,
  type ClientOptions,
  createClient,
  type ResultOptions,
  type Submission,
  submitBatch,
} from './queue/client.js';
export type { BatchStatus, ServiceStatus } from './queue/status.js';
export type { WatchOptions } from './queue/watch.js';
export { checkBatch, readBatch } from './read/batch.js';
export type { BatchDocument } from './read/batch-schema.js';
export {
  batchJsonSchema,
  comparisonJsonSchema,
  type JsonSchema,
  planJsonSchema,
} from './read/json-schema.js';
export { checkPlanDocument, readPlan } from './read/plan.js';
export { recutNotices } from './recut/notices.js';
export { checkRecutDocument } from './recut/read.js';
export { type RecutRequest, recut } from './recut/recut.js';
export { recutJsonSchema } from './recut/schema.js';
export { readTold, type Told } from './recut/told.js';
export type {
  OfferCount,
  RailToCut,
  Recut,
  RecutMoulding,
  RecutPurchase,
  RecutShortfall,
  RecutStick,
  RecutStop,
  RecutTotals,
} from './recut/types.js';
export { type CompareBatchOptions, compareBatch } from './run/compare-batch.js';
export { type PlanBatchOptions, planBatch } from './run/plan-batch.js';
export type { BatchProgress, MouldingProgress } from './run/progress.js';
export { type SawOptions, sawCheck, sawNotices } from './saw/saw.js';
export { sawJsonSchema } from './saw/schema.js';
export type {
  FrameCheck,
  Measured,
  PairTolerance,
  Reading,
  SawCheck,
  TestRing,
} from './saw/types.js';
export { showPlan } from './show/plan.js';
export { showRecut } from './show/recut.js';
export { showSawCheck } from './show/saw.js';
export type { Batch } from './terms.js';
