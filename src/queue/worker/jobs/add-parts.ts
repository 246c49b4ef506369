/** A batch's mouldings become jobs of their own, which the batch's job then waits for. */
import type { Job } from 'bullmq';
import { PairstopError } from '../../../errors.js';
import type { Urgency } from '../../../terms.js';
import { PART_JOB, PART_SCHEMA, partJobId } from '../../names.js';
import { failureOf } from '../../record/figures.js';
import type { Overview } from '../overview.js';
import type { Service } from '../service.js';
import type { PartPayload } from './part-job.js';

export interface BatchAttempt {
  readonly jobId: string;
  readonly run: number;
  readonly fence: number;
  readonly fingerprint: string;
  /** Entries that were no attempts: see `turn` and `replan` in the record's scripts. */
  readonly granted: number;
  /** Planned from the shop's rack. */
  readonly shop: boolean;
}

/** How often a batch's job is entered before mouldings that never end are given up. */
const ENTRIES_MOST = 12;
const CHUNK = 1_000;
const SECOND = 1_000;

/** Adds a job for each moulding that has neither a final part nor a failure; answers how many. */
export async function addParts(
  service: Service,
  urgency: Urgency,
  job: Job,
  batch: BatchAttempt,
  overview: Overview,
  reopened: readonly number[],
): Promise<number> {
  const { store, parts, settings } = service;
  const { jobId, run, fence, fingerprint, granted } = batch;
  const again = new Set(reopened);
  const open = overview.mouldings.flatMap(({ moulding, final, failed }, index) =>
    (final || failed) && !again.has(index) ? [] : [{ moulding, index }],
  );
  if (open.length > 0 && fence - granted > ENTRIES_MOST * run) {
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
