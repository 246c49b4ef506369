/** Whether what a batch that is done left in the store can still be used. */
import { PairstopError } from '../../errors.js';
import { unseal } from '../../processes/seal.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import { BATCH_BYTES, PLAN_BYTES } from '../../read/limits.js';
import type { Store } from '../record/store.js';

/**
 * The run whose result is damaged; null: it is sound, or that run is no longer the last one. Run and result are read
 * in one step, so whoever has the batch made anew by this number cannot undo what another has mended meanwhile.
 */
export async function spoiledRun(
  store: Store,
  jobId: string,
  work: WorkKind,
  batch: string,
): Promise<number | null> {
  const [state, run, plan, document] = await store.read(jobId, ['state', 'run', 'plan', 'batch']);
  if (state?.toString() !== 'done') return null;
  const kind = work === 'plan' ? 'plan' : 'comparison';
  try {
    unseal({ kind, batch, moulding: '' }, plan ?? Buffer.alloc(0), PLAN_BYTES);
    unseal({ kind: 'batch', batch, moulding: '' }, document ?? Buffer.alloc(0), BATCH_BYTES);
    return null;
  } catch (error) {
    if (error instanceof PairstopError) return Number(run?.toString());
    throw error;
  }
}
