/** A batch's mouldings become jobs of their own, which the batch's job then waits for. */
import type { Job } from 'bullmq';
import { PairstopError } from '../../../errors.js';
import type { Urgency } from '../../../terms.js';
import { PART_JOB, PART_SCHEMA, partJobId } from '../../names.js';
import { failureOf } from '../../record/figures.js';
import { RAILS_ALWAYS } from '../../room.js';
import type { Overview } from '../overview.js';
import { ranksOf } from '../rank.js';
import type { Service } from '../service.js';
import { type PartPayload, partOptions } from './part-options.js';

export interface BatchAttempt {
  readonly jobId: string;
  readonly run: number;
  readonly fence: number;
  readonly fingerprint: string;
  /** Entries that were no attempts: see `turn` and `replan` in the record's scripts. */
  readonly granted: number;
  /** Planned from the shop's rack. */
  readonly shop: boolean;
  /** Expected to be planned in a moment. */
  readonly small: boolean;
  /** 0: not known. */
  readonly rails: number;
}

/** How often a batch's job is entered before mouldings that never end are given up. */
const ENTRIES_MOST = 12;
const CHUNK = 1_000;

async function ranksFor(
  { store, slots }: Service,
  urgency: Urgency,
  overview: Overview,
  open: readonly { readonly index: number }[],
): Promise<readonly number[]> {
  const [from, now] = [await store.ranksFrom(urgency), await store.now()];
  return ranksOf(
    overview,
    open.map(({ index }) => index),
    { from, now, slots: slots(urgency) },
  );
}

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
    for (const { index } of open) await store.attempts.fail({ jobId, index, run, fence: null }, failure);
    return 0;
  }
  const parent = { id: jobId, queue: job.queueQualifiedName };
  const passes = batch.small && urgency === 'now' && service.passing();
  const queue = passes ? service.small : parts[urgency];
  const ranks = passes || open.length === 0 ? [] : await ranksFor(service, urgency, overview, open);
  for (let from = 0; from < open.length; from += CHUNK) {
    const jobs = open.slice(from, from + CHUNK).map(({ moulding, index }, i) => ({
      name: PART_JOB,
      data: {
        ...{ schema: PART_SCHEMA, batch: jobId, run, fingerprint, index, moulding },
        ...(batch.rails > RAILS_ALWAYS ? { rails: batch.rails } : {}),
      } satisfies PartPayload,
      opts: partOptions(settings, partJobId(jobId, fence, index), parent, passes ? null : ranks[from + i]!),
    }));
    await queue.addBulk(jobs);
  }
  return open.length;
}
