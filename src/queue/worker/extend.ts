/** Time the other mouldings did not need goes to those not yet proven: another round, from the plans they have. */
import { PairstopError } from '../../errors.js';
import { leftOf, worthAnother } from '../../processes/share.js';
import { workOf } from '../names.js';
import type { Store } from '../record/store.js';
import type { BatchAttempt } from './jobs/add-parts.js';
import type { Overview } from './overview.js';

/** Mouldings whose search was cut by its share of the time; none while any is still open. */
function cutShort({ mouldings }: Overview): number[] {
  if (mouldings.some(({ final, failed }) => !final && !failed)) return [];
  return mouldings.flatMap(({ figures, allotted, used }, index) =>
    figures !== null && worthAnother(figures.proof, allotted, used) ? [index] : [],
  );
}

/** Indices of the mouldings to go on with. Throws PS_CANCELLED where the batch has ended. */
export async function extendBatch(
  store: Store,
  batch: BatchAttempt,
  overview: Overview,
): Promise<readonly number[]> {
  const { limit, started, round } = overview;
  // A comparison is made in one go: another round would begin it anew.
  const open = workOf(batch.jobId) === 'plan' ? cutShort(overview) : [];
  if (started === null || open.length === 0) return [];
  const left = leftOf(limit, (await store.now()) - started, round);
  if (left === 0) return [];
  const outcome = await store.extend(batch.jobId, batch.run, batch.fence, round, left, open);
  if (outcome === 'ended') throw new PairstopError('PS_CANCELLED', 'the batch has ended meanwhile');
  return open;
}
