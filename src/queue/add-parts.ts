/** A batch's mouldings become jobs of their own, which the batch's job then waits for. */
import type { Job } from 'bullmq';
import { z } from 'zod';
import { PairstopError } from '../errors.js';
import { LINES } from '../read/limits.js';
import type { Urgency } from '../terms.js';
import { failureOf } from './figures.js';
import { PART_JOB, PART_SCHEMA, partJobId } from './names.js';
import type { PartPayload } from './part-job.js';
import type { Service } from './service.js';
import type { Store } from './store.js';

export interface BatchRun {
  readonly jobId: string;
  readonly run: number;
  readonly fence: number;
  readonly fingerprint: string;
}

/** How often a batch's job is entered before mouldings that never end are given up. */
const ENTRIES_MOST = 12;
const CHUNK = 1_000;
const SECOND = 1_000;

const idsSchema = z.array(z.string().min(1)).min(1).max(LINES);

/** Ids of the batch's mouldings, in its order. Throws PS_STORE. */
export async function mouldingsOf(store: Store, jobId: string): Promise<string[]> {
  const [text] = await store.read(jobId, ['mouldings']);
  try {
    return idsSchema.parse(JSON.parse(text?.toString() ?? ''));
  } catch {
    throw new PairstopError('PS_STORE', 'the record of the batch is damaged: its list of mouldings');
  }
}

/** Which of `total` mouldings have the field `letter`:i. */
export async function having(store: Store, jobId: string, letter: string, total: number): Promise<boolean[]> {
  const found: boolean[] = [];
  for (let from = 0; from < total; from += CHUNK) {
    const count = Math.min(CHUNK, total - from);
    const fields = Array.from({ length: count }, (_, i) => `${letter}:${from + i}`);
    found.push(...(await store.read(jobId, fields)).map((value) => value !== undefined));
  }
  return found;
}

/** Adds a job for each moulding that has neither a final part nor a failure; answers how many. */
export async function addParts(
  service: Service,
  urgency: Urgency,
  job: Job,
  batch: BatchRun,
): Promise<number> {
  const { store, parts, settings } = service;
  const { jobId, run, fence, fingerprint } = batch;
  const mouldings = await mouldingsOf(store, jobId);
  const done = await having(store, jobId, 'r', mouldings.length);
  const failed = await having(store, jobId, 'e', mouldings.length);
  const open = mouldings.flatMap((moulding, index) =>
    done[index] || failed[index] ? [] : [{ moulding, index }],
  );
  if (open.length > 0 && fence > ENTRIES_MOST * run) {
    const reason = new PairstopError('PS_STALLED', `no worker lived to plan it in ${ENTRIES_MOST} attempts`);
    const failure = JSON.stringify(failureOf(reason));
    for (const { index } of open) await store.fail({ jobId, index, run, fence: null }, failure);
    return 0;
  }
  const retention = Math.round(settings.retention / SECOND);
  for (let from = 0; from < open.length; from += CHUNK) {
    const jobs = open.slice(from, from + CHUNK).map(({ moulding, index }) => ({
      name: PART_JOB,
      data: { schema: PART_SCHEMA, batch: jobId, run, fingerprint, index, moulding } satisfies PartPayload,
      opts: {
        jobId: partJobId(jobId, fence, index),
        parent: { id: jobId, queue: job.queueQualifiedName },
        attempts: settings.attempts,
        backoff: { type: 'fixed', delay: settings.timing.backoff },
        ignoreDependencyOnFailure: true,
        removeOnComplete: true,
        removeOnFail: { age: retention },
        stackTraceLimit: 1,
      },
    }));
    await parts[urgency].addBulk(jobs);
  }
  return open.length;
}
