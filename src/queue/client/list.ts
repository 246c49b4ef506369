/** The batches there are, newest first, page by page. */
import type { Redis } from 'ioredis';
import { PairstopError } from '../../errors.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import { show } from '../../read/problems.js';
import type { Urgency } from '../../terms.js';
import { globFor, type Keys, workOf } from '../names.js';
import { type BatchState, STATES } from '../record/steps.js';
import { isDamage } from '../redis/outage.js';

export interface PageOptions {
  /** Only plans, or only comparisons. */
  readonly work?: WorkKind;
  /** Only those in this state. */
  readonly state?: BatchState;
  /** Only those submitted since, milliseconds since 1970. */
  readonly since?: number;
  /** At most so many on a page, 1 to 1,000; by default 50. */
  readonly limit?: number;
  /** `next` of the page before. */
  readonly after?: string;
}

export interface PagedBatch {
  readonly id: string;
  /** A batch's plan and its comparison are two entries. */
  readonly work: WorkKind;
  readonly state: BatchState;
  /** complete | short, once there is a plan. */
  readonly outcome: 'complete' | 'short' | null;
  readonly urgency: Urgency;
  readonly revision: number;
  /** Milliseconds since 1970, by Redis's clock. */
  readonly submitted: number;
  readonly finished: number | null;
  /** Of the plan, where it buys something or could. */
  readonly cost: number | null;
}

export interface BatchPage {
  readonly batches: readonly PagedBatch[];
  /** To ask on with, as `after`; null: these are the last. */
  readonly next: string | null;
}

const USUAL = 50;
const MOST = 1_000;
const SCANNED = 1_000;
const FIELDS = [
  'id',
  'state',
  'urgency',
  'revision',
  'submitted',
  'finished',
  'status',
  'cost',
  'fingerprint',
] as const;

interface Entry {
  readonly job: string;
  readonly batch: PagedBatch;
}

function entryOf(job: string, values: readonly (string | null)[]): Entry | null {
  const [id, stateText, urgency, revision, submitted, finished, status, cost, fingerprint] = values;
  const state = STATES.find((one) => one === stateText);
  // Gone since, or damaged: `status` says what is wrong with it.
  if (id === undefined || id === null || state === undefined) return null;
  // What a quote holds is a record without content; a night that has just closed has none yet either, and waits.
  if (state === 'done' && fingerprint === '') return null;
  return {
    job,
    batch: {
      id,
      work: workOf(job),
      state,
      outcome: state === 'done' && (status === 'complete' || status === 'short') ? status : null,
      urgency: urgency === 'tonight' ? 'tonight' : 'now',
      revision: Number(revision ?? 1) || 1,
      submitted: Number(submitted ?? 0) || 0,
      finished: finished === null || finished === undefined ? null : Number(finished),
      cost: state === 'done' && cost !== null && cost !== undefined && cost !== '' ? Number(cost) : null,
    },
  };
}

/** Newest first; of one moment by job id, so that pages never overlap. */
function before(a: Pick<Entry, 'job'> & { at: number }, b: Pick<Entry, 'job'> & { at: number }): number {
  return b.at - a.at || (a.job < b.job ? -1 : a.job > b.job ? 1 : 0);
}

function placeOf(after: string): { readonly at: number; readonly job: string } {
  const parts = /^(\d{1,16})\.(.+)$/s.exec(after);
  if (parts !== null) return { at: Number(parts[1]), job: parts[2]! };
  throw new PairstopError(
    'PS_USAGE',
    `after: given ${show(after)}; allowed: what the page before gave as next`,
  );
}

function limitOf(limit: number | undefined): number {
  if (limit === undefined) return USUAL;
  if (Number.isInteger(limit) && limit >= 1 && limit <= MOST) return limit;
  throw new PairstopError('PS_USAGE', `limit: given ${show(limit)}; allowed: a whole number, 1 to ${MOST}`);
}

/** Nothing where something else lies under the key; `status` says so. */
async function fieldsOf(redis: Redis, record: string): Promise<readonly (string | null)[]> {
  try {
    return await redis.hmget(record, ...FIELDS);
  } catch (error) {
    if (isDamage(error)) return [];
    throw error;
  }
}

/** Throws PS_USAGE. */
export async function listBatches(redis: Redis, keys: Keys, options: PageOptions): Promise<BatchPage> {
  const limit = limitOf(options.limit);
  const after = options.after === undefined ? null : placeOf(options.after);
  const prefix = keys.record('');
  const found: (Entry & { readonly at: number })[] = [];
  const stream = redis.scanStream({ match: `${globFor(prefix)}[bc]-*`, count: SCANNED });
  for await (const names of stream as AsyncIterable<readonly string[]>) {
    // An earlier revision stands behind an @, which no job id holds.
    const jobs = names.map((name) => name.slice(prefix.length)).filter((job) => !/[@:]/.test(job));
    const values = await Promise.all(jobs.map((job) => fieldsOf(redis, keys.record(job))));
    values.forEach((some, i) => {
      const entry = entryOf(jobs[i]!, some);
      if (entry === null) return;
      const { state, submitted, work } = entry.batch;
      if (options.work !== undefined && work !== options.work) return;
      if (options.state !== undefined && state !== options.state) return;
      if (options.since !== undefined && submitted < options.since) return;
      found.push({ ...entry, at: submitted });
    });
  }
  // A scan may answer a key twice.
  const once = [...new Map(found.map((entry) => [entry.job, entry])).values()].sort(before);
  const rest = after === null ? once : once.filter((entry) => before(after, entry) < 0);
  const page = rest.slice(0, limit);
  const last = page.at(-1);
  return {
    batches: page.map(({ batch }) => batch),
    next: rest.length > limit && last !== undefined ? `${last.at}.${last.job}` : null,
  };
}
