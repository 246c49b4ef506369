/** Jobs that BullMQ fails by itself, because their workers died every time, still get their reason in the record. */
import type { Job } from 'bullmq';
import { PairstopError } from '../../errors.js';
import { batchQueue, URGENCIES } from '../names.js';
import { failureOf } from '../record/figures.js';
import { persist } from '../redis/waiting.js';
import { stripJob } from './give-up.js';
import { payloadOf } from './raw-worker.js';
import type { Service } from './service.js';

/** What BullMQ says of a job it gives up. */
const GIVEN_UP = /stalled more than allowable limit|started more than allowable limit/;

const STALLED = new PairstopError('PS_STALLED', 'the workers that took the job died every time');

function partOf(job: Job): { jobId: string; index: number; run: number } | null {
  try {
    const payload: unknown = JSON.parse(payloadOf(job));
    if (typeof payload !== 'object' || payload === null) return null;
    const { batch, index, run } = payload as Record<string, unknown>;
    if (typeof batch !== 'string' || typeof index !== 'number' || typeof run !== 'number') return null;
    return { jobId: batch, index, run };
  } catch {
    return null;
  }
}

/** Never throws. */
export async function noteStalled(service: Service, job: Job, error: Error): Promise<void> {
  if (!GIVEN_UP.test(error.message)) return;
  const { store, settings, log, running } = service;
  const failure = JSON.stringify(failureOf(STALLED));
  const batches = URGENCIES.map(batchQueue);
  try {
    await persist(
      settings.timing.outage,
      'a failure cannot be stored',
      async () => {
        if (batches.includes(job.queueName)) {
          await store.failBatch(job.id ?? '', null, failure, null);
          return stripJob(service, job, STALLED.code);
        }
        const part = partOf(job);
        if (part !== null) await store.attempts.fail({ ...part, fence: null }, failure);
      },
      running.stopSignal,
    );
  } catch (reason) {
    log.error({ reason: reason instanceof Error ? reason.message : '' }, 'a stalled job could not be noted');
  }
}
