/** A batch on its way to the pool, and the job that is to close it. */
import type { Queue } from 'bullmq';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { seal } from '../../processes/seal.js';
import type { PoolPlace } from '../record/steps.js';
import type { Store } from '../record/store.js';
import { closingAfter } from './schedule.js';

export const NIGHT_JOB = 'close';
export const NIGHT_SCHEMA = 'pairstop/night-job@1';

/** When the pool closes for one who comes now, if nothing waits there. */
export async function nextClosing(store: Store): Promise<number> {
  const [{ settings }, now] = await Promise.all([store.night.state(), store.now()]);
  return closingAfter(now, settings);
}

export async function placeFor(
  store: Store,
  document: BatchDocument,
  fingerprint: string,
): Promise<PoolPlace> {
  return {
    sealed: seal({ kind: 'batch', batch: fingerprint, moulding: '' }, JSON.stringify(document)),
    closes: await nextClosing(store),
  };
}

/** A job at the moment the pool closes. Should it be lost, the workers' sweep closes the pool a little later. */
export async function scheduleClosing(queue: Queue, store: Store): Promise<void> {
  const [{ closes }, now] = await Promise.all([store.night.state(), store.now()]);
  if (closes === null) return;
  await addNightJob(queue, `close-${closes}`, Math.max(0, closes - now));
}

/** A job known under the id already is enough. */
export async function addNightJob(queue: Queue, jobId: string, delay: number): Promise<void> {
  await queue.add(
    NIGHT_JOB,
    { schema: NIGHT_SCHEMA },
    {
      jobId,
      delay,
      attempts: 3,
      backoff: 1_000,
      removeOnComplete: true,
      removeOnFail: true,
      stackTraceLimit: 1,
    },
  );
}
