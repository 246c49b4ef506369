/** A recut on this machine, in a solver process of its own: a library that hangs does not hang the caller. */
import { randomUUID } from 'node:crypto';
import type { Recut } from '../documents/recut/types.js';
import { PairstopError } from '../errors.js';
import type { RecutRequest } from '../recut/recut.js';
import { localPool, type PlanBatchOptions } from './plan-batch.js';
import { A_RAIL_MS, cancelled, GRACE_MS } from './solve-moulding.js';
import { answerOf, READ_MS } from './solver/answer.js';
import { SolverPool } from './solver/pool.js';
import type { RecutBatchTask } from './solver/tasks.js';

export type RecutBatchOptions = Pick<PlanBatchOptions, 'signal'>;

const MS = 1000;
/** For a million rails, checking the plan takes about half a minute, and so does laying it out again. */
const CHECK_MS = 60_000;

/**
 * The recut within the batch's time limit. Throws PS_RECUT for lost rails, cuts or a plan that do not belong together,
 * PS_SOLVER when the solver process cannot live or does not end in time, PS_CANCELLED.
 */
export async function recutBatch(
  { batch, ...request }: RecutRequest,
  { signal }: RecutBatchOptions = {},
): Promise<Recut> {
  const pool = new SolverPool(localPool(1));
  const budget = batch.options.timeLimit * MS;
  try {
    const outcome = await pool.run<RecutBatchTask>(
      () => ({
        task: {
          kind: 'recut',
          batch: { key: randomUUID(), source: { kind: 'batch', batch } },
          request,
          budget,
        },
        limit: budget + CHECK_MS + GRACE_MS,
        aRail: A_RAIL_MS,
        reading: READ_MS,
      }),
      { signal },
    );
    const { recut } = answerOf<RecutBatchTask>(outcome, {
      died: (reason) => new PairstopError('PS_SOLVER', `the process that made the recut died: ${reason}`),
      aborted: () => cancelled(signal ?? AbortSignal.abort()),
    });
    return recut;
  } finally {
    await pool.close();
  }
}
