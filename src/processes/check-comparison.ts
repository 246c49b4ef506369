/** Verifies a comparison: the plans that show what its purchases make are searched for in solver processes. */
import { checkClaims } from '../check/comparison/comparison.js';
import { makesOf, trialOf } from '../check/comparison/trial.js';
import type { CheckReport } from '../check/report.js';
import type { Comparison } from '../documents/comparison/types.js';
import type { Batch } from '../terms.js';
import { type PlanBatchOptions, planBatch } from './plan-batch.js';

/** Within the batch's time limit. Rejects as `planBatch` does. */
export async function checkComparison(
  batch: Batch,
  comparison: Comparison,
  options: Pick<PlanBatchOptions, 'signal'> = {},
): Promise<CheckReport> {
  const trial = trialOf(batch, comparison);
  if (trial.batch.mouldings.length === 0) return checkClaims(batch, comparison, () => false);
  return checkClaims(batch, comparison, makesOf(trial, await planBatch(trial.batch, options)));
}
