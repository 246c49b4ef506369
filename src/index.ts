/** What other software may use. Everything else under `dist` may change without notice. */
export { checkPlan } from './check/check.js';
export { type CheckReport, type Finding, findingText, reportText } from './check/report.js';
export { type CheckCode, rules } from './check/rules.js';
export { checkBatch, readBatch } from './documents/batch/read.js';
export type { BatchDocument } from './documents/batch/schema.js';
export { batchJsonSchema } from './documents/batch/schema.js';
export { comparisonJsonSchema } from './documents/comparison/schema.js';
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
} from './documents/comparison/types.js';
export type { JsonSchema } from './documents/json-schema.js';
export { checkPlanDocument, readPlan } from './documents/plan/read.js';
export { planJsonSchema } from './documents/plan/schema.js';
export type {
  HandlingFigures,
  MergingFigures,
  MouldingPlan,
  PlacedRail,
  Plan,
  PlannedPair,
  PlannedPurchase,
  PlannedStick,
  PlannedStop,
  PlanProof,
  Remainder,
  Shortfall,
  Totals,
  WayOfCutting,
} from './documents/plan/types.js';
export { checkRecutDocument } from './documents/recut/read.js';
export { recutJsonSchema } from './documents/recut/schema.js';
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
} from './documents/recut/types.js';
export { sawJsonSchema } from './documents/saw/schema.js';
export type {
  FrameCheck,
  Measured,
  PairTolerance,
  RingReading,
  SawCheck,
  TestRing,
} from './documents/saw/types.js';
export { catalogue, type ErrorCode, type InputProblem, PairstopError } from './errors.js';
export { formatLength } from './lengths/format.js';
export { parseLength } from './lengths/parse.js';
export { type Notice, type NoticeCode, notices } from './notices.js';
export {
  type Client,
  type ClientOptions,
  createClient,
  type ResultOptions,
  type Submission,
  submitBatch,
} from './queue/client/client.js';
export type { BatchStatus, ServiceStatus } from './queue/client/status.js';
export type { WatchOptions } from './queue/client/watch.js';
export { type RecutRequest, recut } from './recut/recut.js';
export { readTold, type Told } from './recut/told.js';
export { type CompareBatchOptions, compareBatch } from './run/compare-batch.js';
export { type PlanBatchOptions, planBatch } from './run/plan-batch.js';
export type { BatchProgress, MouldingProgress } from './run/progress.js';
export { type SawOptions, sawCheck } from './saw/saw.js';
export { showComparison } from './show/comparison.js';
export { comparisonSvg } from './show/comparison-chart.js';
export { showPlan } from './show/plan.js';
export { showRecut } from './show/recut.js';
export { showSawCheck } from './show/saw.js';
export type { Batch } from './terms.js';
