/** Puts a batch's job on its queue. */
import type { Job, Queue } from 'bullmq';
import { BATCH_JOB } from '../../names.js';
import type { Store } from '../../record/store.js';
import { sleep } from '../../redis/waiting.js';

const SECOND = 1_000;
const ATTEMPTS = 3;
const BACKOFF_MS = 1_000;
const SETTLE_MS = 5_000;
const SETTLE_LOOK_MS = 50;

export interface BatchJobRequest {
  readonly jobId: string;
  /** Whether the queue has a job under this id already. */
  readonly exists: boolean;
  readonly payload: Readonly<Record<string, unknown>>;
  /** Milliseconds. */
  readonly delay: number;
  readonly retention: number;
}

/**
 * Whether an earlier job is over. One in a worker's hands either enters the new run or is about to end, having seen
 * that its own was cancelled; both show soon.
 */
async function settled(old: Job, store: Store, jobId: string): Promise<boolean> {
  const end = Date.now() + SETTLE_MS;
  for (;;) {
    const state = await old.getState();
    if (state !== 'active') return state === 'failed' || state === 'completed' || state === 'unknown';
    const [entered] = await store.read(jobId, ['state']);
    if (entered?.toString() !== 'waiting' || Date.now() > end) return false;
    await sleep(SETTLE_LOOK_MS);
  }
}

/** Adding a known id changes nothing, so a job left from an earlier run has to go first. */
export async function addBatch(queue: Queue, store: Store, request: BatchJobRequest): Promise<void> {
  const { jobId, exists, payload, delay, retention } = request;
  if (exists) {
    const old = await queue.getJob(jobId);
    if (old !== undefined && !(await settled(old, store, jobId))) return;
    await old?.remove().catch(() => {});
  }
  const age = Math.round(retention / SECOND);
  await queue.add(BATCH_JOB, payload, {
    jobId,
    delay,
    attempts: ATTEMPTS,
    backoff: { type: 'fixed', delay: BACKOFF_MS },
    removeOnComplete: { age },
    removeOnFail: { age },
    stackTraceLimit: 1,
  });
}
