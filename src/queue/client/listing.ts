/** All batches of a shop in brief, newest first. */
import type { Redis } from 'ioredis';
import type { WorkKind } from '../../run/solver/tasks.js';
import type { Urgency } from '../../terms.js';
import { type Keys, workOf } from '../names.js';
import { failureFrom } from '../record/figures.js';
import { type BatchState, STATES } from '../record/steps.js';

export interface ListedBatch {
  readonly id: string;
  readonly work: WorkKind;
  readonly state: BatchState;
  readonly urgency: Urgency;
  /** How often it has been submitted after a failure or a cancellation, from 1. */
  readonly run: number;
  /** Milliseconds since 1970, by Redis's clock. */
  readonly submitted: number;
  readonly started: number | null;
  readonly finished: number | null;
  /** Null until it has been divided into its mouldings. */
  readonly mouldings: { readonly total: number; readonly done: number; readonly failed: number } | null;
  /** complete | short, once there is a plan. */
  readonly outcome: 'complete' | 'short' | null;
  /** Of what is bought, once there is a plan. */
  readonly cost: number | null;
  /** Why it failed. */
  readonly code: string | null;
}

export interface ListOptions {
  /** Only batches in these states. */
  readonly states?: readonly BatchState[];
  /** At most so many, the newest; by default all. */
  readonly limit?: number;
}

const FIELDS = [
  ...['id', 'state', 'urgency', 'run', 'submitted', 'started', 'finished'],
  ...['total', 'done', 'failed', 'status', 'cost', 'failure'],
] as const;
const SCAN_COUNT = 1_000;

/** Job ids of all batches that have a record. */
export async function recordedJobs(redis: Redis, keys: Keys): Promise<string[]> {
  const start = keys.record('');
  const found = new Set<string>();
  let cursor = '0';
  do {
    const [next, some] = await redis.scan(cursor, 'MATCH', `${globFor(start)}*`, 'COUNT', SCAN_COUNT);
    for (const key of some) found.add(key.slice(start.length));
    cursor = next;
  } while (cursor !== '0');
  return [...found];
}

/** A text as a pattern that matches only itself. */
export function globFor(text: string): string {
  return text.replace(/[\\*?[\]{}^]/g, '\\$&');
}

function numberIn(text: string | null | undefined): number | null {
  const number = text === null || text === undefined ? Number.NaN : Number(text);
  return Number.isFinite(number) ? number : null;
}

/** Null for what is no record: a list goes on where `status` of the one batch would tell the damage. */
function listed(jobId: string, values: readonly (string | null)[]): ListedBatch | null {
  const field = (name: (typeof FIELDS)[number]): string | null => values[FIELDS.indexOf(name)] ?? null;
  const state = STATES.find((known) => known === field('state'));
  const [id, urgency] = [field('id'), field('urgency')];
  if (state === undefined || id === null || (urgency !== 'now' && urgency !== 'tonight')) return null;
  const total = numberIn(field('total'));
  const outcome = field('status');
  const failure = field('failure');
  return {
    id,
    work: workOf(jobId),
    state,
    urgency,
    run: numberIn(field('run')) ?? 1,
    submitted: numberIn(field('submitted')) ?? 0,
    started: numberIn(field('started')),
    finished: numberIn(field('finished')),
    mouldings:
      total === null
        ? null
        : { total, done: numberIn(field('done')) ?? 0, failed: numberIn(field('failed')) ?? 0 },
    outcome: state === 'done' && (outcome === 'complete' || outcome === 'short') ? outcome : null,
    cost: state === 'done' ? numberIn(field('cost')) : null,
    code: state === 'failed' && failure !== null ? failureFrom(failure).code : null,
  };
}

export async function listBatches(redis: Redis, keys: Keys, options: ListOptions): Promise<ListedBatch[]> {
  const { states, limit = Number.POSITIVE_INFINITY } = options;
  const jobs = await recordedJobs(redis, keys);
  const found: ListedBatch[] = [];
  for (let from = 0; from < jobs.length; from += SCAN_COUNT) {
    const some = jobs.slice(from, from + SCAN_COUNT);
    const pipeline = redis.pipeline();
    for (const jobId of some) pipeline.hmget(keys.record(jobId), ...FIELDS);
    const replies = (await pipeline.exec()) ?? [];
    replies.forEach(([error, values], i) => {
      const one = error === null ? listed(some[i]!, values as (string | null)[]) : null;
      if (one !== null && (states === undefined || states.includes(one.state))) found.push(one);
    });
  }
  found.sort((a, b) => b.submitted - a.submitted || (a.id < b.id ? -1 : 1));
  return found.slice(0, limit);
}
