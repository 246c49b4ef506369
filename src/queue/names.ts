/** Queues, jobs and keys, as other software finds them in Redis. */

import type { WorkKind } from '../processes/solver/tasks.js';
import { type RackKeys, rackKeysOf } from '../rack/store/keys.js';
import type { Urgency } from '../terms.js';
import { type NightKeys, nightKeysOf } from './night/keys.js';

export const URGENCIES: readonly Urgency[] = ['now', 'tonight'];

/** One job a batch: reads it, waits for its mouldings, publishes the plan. */
export function batchQueue(urgency: Urgency): string {
  return `batch-${urgency}`;
}

/** One job a moulding. */
export function partQueue(urgency: Urgency): string {
  return `part-${urgency}`;
}

/** Mouldings of small batches for now, which pass by those that may take long. */
export const SMALL_PARTS = 'part-small';
/** One job when the pool is to close, and one for each night that is to be put together. */
export const NIGHT_QUEUE = 'night';
/** One job a quote. */
export const QUOTE_QUEUE = 'quote';

/**
 * What BullMQ keeps of each queue's events, which nobody here reads: by itself 10,000, some 0.8 kB for each batch until then.
 */
export const QUEUE_EVENTS = { streams: { events: { maxLen: 200 } } } as const;

export const BATCH_JOB = 'batch';
export const PART_JOB = 'part';

export const PART_SCHEMA = 'pairstop/part@1';

/**
 * The job id of a batch, `b-` for its plan and `c-` for its comparison: its own id, percent-encoded as in a URL's path, so that it holds no colon and is never all
 * digits, which BullMQ refuses.
 */
export function jobIdOf(batch: string, work: WorkKind = 'plan'): string {
  return `${work === 'plan' ? 'b' : 'c'}-${encodeURIComponent(batch)}`;
}

/** The batch's own id in its job's. */
export function batchOfJob(jobId: string): string {
  return decodeURIComponent(jobId.slice(2));
}

/** What an earlier revision's record is stored under: no job id holds an @. */
export function revisionOf(jobId: string, revision: number): string {
  return `${jobId}@${revision}`;
}

/** What the job under this id is for. */
export function workOf(jobId: string): WorkKind {
  return jobId.startsWith('c-') ? 'compare' : 'plan';
}

/**
 * The job id of a moulding. `entry` counts how often the batch's job was entered: a moulding is never added twice
 * under one id, since a job that failed already would keep its batch waiting for ever.
 */
export function partJobId(jobId: string, entry: number, index: number): string {
  return `${jobId}.${entry}.${index}`;
}

export interface Keys {
  /** Hash: everything known of one batch. */
  readonly record: (jobId: string) => string;
  /** Hash: BullMQ's job of a batch. */
  readonly job: (urgency: Urgency, jobId: string) => string;
  /** Channel on which a batch's changes are told. */
  readonly events: (jobId: string) => string;
  /** Channel on which cancelled batches are told to all workers; the message is the job id. */
  readonly cancelled: string;
  /** Hash: worker id → heartbeat, as version 0.1.0 reads it. */
  readonly workers: string;
  /** Hash: worker id → heartbeat with whatever else its version tells. */
  readonly heartbeats: string;
  /** Stream: who submitted, cancelled or purged what. */
  readonly audit: string;
  /** List of the last errors, newest first. */
  readonly errors: string;
  /** Milliseconds since 1970: what the priorities of an urgency's mouldings are counted from. */
  readonly ranksFrom: (urgency: Urgency) => string;
  /** Sets and lists of BullMQ that hold the mouldings of an urgency that have not ended. */
  readonly openParts: (urgency: Urgency) => readonly string[];
  readonly rack: RackKeys;
  readonly night: NightKeys;
}

export function keysOf(prefix: string): Keys {
  const record = (jobId: string): string => `${prefix}:store:${jobId}`;
  return {
    record,
    job: (urgency, jobId) => `${prefix}:${batchQueue(urgency)}:${jobId}`,
    events: (jobId) => `${record(jobId)}:events`,
    cancelled: `${prefix}:cancelled`,
    workers: `${prefix}:workers`,
    heartbeats: `${prefix}:heartbeats`,
    audit: `${prefix}:audit`,
    errors: `${prefix}:errors`,
    ranksFrom: (urgency) => `${prefix}:${partQueue(urgency)}:ranks-from`,
    openParts: (urgency) =>
      ['wait', 'paused', 'active', 'prioritized', 'delayed'].map(
        (state) => `${prefix}:${partQueue(urgency)}:${state}`,
      ),
    rack: rackKeysOf(prefix),
    night: nightKeysOf(prefix),
  };
}

/** A text as a pattern of Redis that matches only itself. */
export function globFor(text: string): string {
  return text.replace(/[\\*?[\]{}^]/g, '\\$&');
}
