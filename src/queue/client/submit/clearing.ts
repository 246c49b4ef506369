/** Jobs of a batch that is not wanted any more are taken out of the queues. */
import { batchQueue, NIGHT_QUEUE, URGENCIES } from '../../names.js';
import { addNightJob } from '../../night/joining.js';
import type { CancelAnswer } from '../../record/steps.js';
import { isOutage } from '../../redis/outage.js';
import { sleep } from '../../redis/waiting.js';
import type { Session } from '../session.js';

const SETTLE_MS = 5_000;
const SETTLE_LOOK_MS = 50;

/** Jobs nobody has taken yet need not stay; a worker that comes upon one finds its batch ended. */
export async function clearJobs(session: Session, jobId: string): Promise<void> {
  for (const urgency of URGENCIES) {
    try {
      const job = await session.queue(batchQueue(urgency)).getJob(jobId);
      await job?.remove({ removeChildren: true });
    } catch (error) {
      // Some of it is in a worker's hands, which ends it.
      if (isOutage(error)) return;
    }
  }
}

/** What works on replaced content has been told to end; its job goes as soon as no worker holds any of it. */
export async function makeRoom(session: Session, jobId: string): Promise<void> {
  const end = Date.now() + SETTLE_MS;
  for (;;) {
    await clearJobs(session, jobId);
    const left = await Promise.all(
      URGENCIES.map((urgency) => session.queue(batchQueue(urgency)).getJob(jobId)),
    );
    // What is left then keeps the new job out; the same batch submitted again tries again.
    if (left.every((job) => job === undefined) || Date.now() > end) return;
    await sleep(SETTLE_LOOK_MS);
  }
}

/** The jobs of a night's earlier run go, and it is put together and planned with the batches left in it. */
export async function planOthers(
  session: Session,
  { night, left }: Extract<CancelAnswer, { readonly kind: 'left' }>,
): Promise<void> {
  await makeRoom(session, night.jobId);
  if (left > 0) await addNightJob(session.queue(NIGHT_QUEUE), `make-${night.jobId}-${night.run}`, 0);
}
