/** Starts solvers that never return, tells their ids, and waits to be killed. */
import { readBatch } from '../../src/documents/batch/read.js';
import { SolverPool } from '../../src/processes/solver/pool.js';
import { batchOf } from './batches.js';
import { PLANTED } from './service.js';

const pool = new SolverPool({
  entry: PLANTED,
  size: 2,
  heapMb: 256,
  rssMb: 1_024,
  nice: 0,
  recycleAfter: 10,
});
await pool.warm();
for (const moulding of ['mute', 'hang']) {
  const batch = readBatch(JSON.stringify(batchOf('b', [moulding])));
  const ref = { key: moulding, source: { kind: 'batch', batch } } as const;
  const task = {
    kind: 'solve',
    rack: [],
    work: 'plan',
    batch: ref,
    moulding,
    budget: 1e6,
    effort: 'full',
    start: null,
  } as const;
  void pool.run(() => ({ task, limit: 1e6 }));
}
setTimeout(() => process.send?.(pool.pids), 500);
