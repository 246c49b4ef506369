/** What is known of one batch, and of the service. */
import type { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { PairstopError } from '../../errors.js';
import {
  type BatchProgress,
  type MouldingProgress,
  type MouldingState,
  summarise,
} from '../../processes/progress.js';
import type { Urgency } from '../../terms.js';
import { batchOfJob, batchQueue, type Keys, partQueue, SMALL_PARTS } from '../names.js';
import { type ListedError, listedErrors } from '../record/errors-list.js';
import { fieldOf } from '../record/fields.js';
import { type Failure, failureFrom, figuresFrom } from '../record/figures.js';
import { type Heartbeat, knownWorkers } from '../record/health.js';
import { FORMAT } from '../record/prelude.js';
import type { BatchState } from '../record/steps.js';
import type { Store } from '../record/store.js';
import { redisNow } from '../redis/clock.js';
import { mouldingIds } from '../worker/overview.js';
import type { UncutPlans } from './to-saw.js';

const CHUNK = 250;
const SECOND = 1_000;
/** The last moment a Date can tell. */
const LATEST = 8.64e15;

export interface BatchStatus {
  readonly id: string;
  readonly state: BatchState;
  readonly fingerprint: string;
  readonly urgency: Urgency;
  /** How often it has been submitted after a failure or a cancellation, from 1. */
  readonly run: number;
  /** From 1: how often the id has stood for other content; the earlier ones can be asked for. */
  readonly revision: number;
  /** Milliseconds since 1970, by Redis's clock. */
  readonly submitted: number;
  /** When a batch that waits for its time may start; null for any other. */
  readonly starts: number | null;
  readonly started: number | null;
  readonly finished: number | null;
  /** When the pool closes that it waits in; null: it waits in none. */
  readonly pool: { readonly closes: number | null } | null;
  /** Id of the night it is planned in; null: none. */
  readonly night: string | null;
  /** Of a night: the batches that are planned in it; else empty. */
  readonly batches: readonly string[];
  /** Null until the batch has been divided into its mouldings. */
  readonly progress: BatchProgress | null;
  readonly mouldings: readonly MouldingProgress[];
  /** complete | short, once there is a plan. */
  readonly outcome: 'complete' | 'short' | null;
  /** What the sawing of its plan takes; null: there is none, it is cut with a night's, or an older program made it. */
  readonly sawing: number | null;
  readonly failure: Failure | null;
}

const FIELDS = [
  'format',
  'id',
  'state',
  'fingerprint',
  'urgency',
  'run',
  'revision',
  'submitted',
  'started',
  'finished',
  'mouldings',
  'limit',
  'status',
  'failure',
  'pool',
  'night',
  'members',
  'seconds',
] as const;

const PER_MOULDING = ['figures', 'begun', 'final', 'failure'] as const;

function stateOf(solving: boolean, done: boolean, failed: boolean): MouldingState {
  if (done) return 'done';
  if (failed) return 'failed';
  return solving ? 'solving' : 'waiting';
}

/** `planned`: the batch has its plan, and nothing is left of its parts but their figures. */
async function mouldingProgress(
  store: Store,
  jobId: string,
  ids: readonly string[],
  planned: boolean,
): Promise<MouldingProgress[]> {
  const found: MouldingProgress[] = [];
  for (let from = 0; from < ids.length; from += CHUNK) {
    const some = ids.slice(from, from + CHUNK);
    const fields = PER_MOULDING.flatMap((field) => some.map((_, i) => fieldOf(field, from + i)));
    const values = await store.read(jobId, fields);
    some.forEach((moulding, i) => {
      const at = (field: (typeof PER_MOULDING)[number]) =>
        values[PER_MOULDING.indexOf(field) * some.length + i];
      const figures = figuresFrom(at('figures')?.toString() ?? '');
      found.push({
        moulding,
        state: stateOf(
          at('begun') !== undefined,
          planned || at('final') !== undefined,
          at('failure') !== undefined,
        ),
        proof: figures?.proof ?? null,
        frames: figures?.frames ?? 0,
        ordered: figures?.ordered ?? 0,
      });
    });
  }
  return found;
}

function number(name: string, text: string | undefined): number | null {
  if (text === undefined) return null;
  if (!/^\d{1,16}(\.\d+)?$/.test(text) || Number(text) > LATEST) {
    throw new PairstopError('PS_STORE', `the record of the batch is damaged: its ${name}`);
  }
  return Number(text);
}

/** A JSON list of job ids; what is damaged counts as none. */
function jobsIn(text: string | undefined): readonly string[] {
  try {
    const list: unknown = JSON.parse(text ?? '[]');
    return Array.isArray(list) ? list.map(String) : [];
  } catch {
    return [];
  }
}

function isState(text: string | undefined): text is BatchState {
  return ['waiting', 'running', 'done', 'failed', 'cancelled'].includes(text ?? '');
}

/** BullMQ keeps of a delayed job when it was added and for how long it is put off, in milliseconds. */
async function startOf(redis: Redis, job: string): Promise<number | null> {
  const [added, delay] = (await redis.hmget(job, 'timestamp', 'delay')).map((text) => Number(text ?? 0));
  const starts = (added ?? 0) + (delay ?? 0);
  return (delay ?? 0) > 0 && starts > (await redisNow(redis)) ? starts : null;
}

/** Throws PS_VERSION for the record of a later version. */
function requireFormat(text: string | undefined): void {
  if (text === undefined || Number(text) <= FORMAT) return;
  const newer = `format ${text.slice(0, 20)}; this version knows ${FORMAT}`;
  throw new PairstopError(
    'PS_VERSION',
    `the record of the batch is of a newer version of Pairstop (${newer}): upgrade`,
  );
}

/** Null for an id nobody submitted. Throws PS_STORE for a damaged record, PS_VERSION for one of a later version. */
export async function batchStatus(
  redis: Redis,
  keys: Keys,
  store: Store,
  jobId: string,
): Promise<BatchStatus | null> {
  const values = await store.read(jobId, FIELDS);
  const field = (name: (typeof FIELDS)[number]): string | undefined =>
    values[FIELDS.indexOf(name)]?.toString();
  const [id, state, urgency] = [field('id'), field('state'), field('urgency')];
  if (id === undefined && state === undefined) return null;
  requireFormat(field('format'));
  if (id === undefined || !isState(state) || (urgency !== 'now' && urgency !== 'tonight')) {
    throw new PairstopError('PS_STORE', 'the record of the batch is damaged: its state');
  }
  const numeric = (name: (typeof FIELDS)[number]): number | null => number(name, field(name));
  const started = numeric('started');
  const finished = numeric('finished');
  const list = field('mouldings');
  const outcome = field('status');
  const planned = outcome !== undefined;
  const mouldings =
    list === undefined ? [] : await mouldingProgress(store, jobId, mouldingIds(list), planned);
  const end = finished ?? (started === null ? 0 : await redisNow(redis));
  const elapsed = started === null ? null : Math.max(0, end - started) / SECOND;
  const timeLimit = (numeric('limit') ?? 0) / SECOND;
  return {
    id,
    state,
    fingerprint: field('fingerprint') ?? '',
    urgency,
    run: numeric('run') ?? 1,
    revision: numeric('revision') ?? 1,
    submitted: numeric('submitted') ?? 0,
    starts: state === 'waiting' ? await startOf(redis, keys.job(urgency, jobId)) : null,
    started,
    finished,
    pool: field('pool') === undefined ? null : { closes: (await store.night.state()).closes },
    night: field('night') === undefined ? null : batchOfJob(field('night') ?? ''),
    batches: jobsIn(field('members')).map(batchOfJob),
    progress: mouldings.length === 0 ? null : summarise(mouldings, { elapsed, timeLimit }),
    mouldings,
    sawing: state === 'done' ? numeric('seconds') : null,
    outcome: state === 'done' && (outcome === 'complete' || outcome === 'short') ? outcome : null,
    failure: field('failure') === undefined ? null : failureFrom(field('failure') ?? ''),
  };
}

/** As much as fetching a plan needs. */
export interface BatchEnd {
  readonly state: BatchState;
  readonly fingerprint: string;
  readonly failure: Failure | null;
}

/** Null for an id nobody submitted. Throws PS_STORE for a damaged record. */
export async function batchEnd(store: Store, jobId: string): Promise<BatchEnd | null> {
  const [state, fingerprint, failure, format] = await store.read(jobId, [
    'state',
    'fingerprint',
    'failure',
    'format',
  ]);
  const text = state?.toString();
  if (text === undefined) return null;
  requireFormat(format?.toString());
  if (!isState(text)) throw new PairstopError('PS_STORE', 'the record of the batch is damaged: its state');
  return {
    state: text,
    fingerprint: fingerprint?.toString() ?? '',
    failure: failure === undefined ? null : failureFrom(failure.toString()),
  };
}

export interface QueueDepth {
  /** Waiting for a worker. */
  readonly waiting: number;
  /** In a worker's hands. */
  readonly active: number;
  /** For their time, or before another attempt. */
  readonly delayed: number;
  /** Batches that wait for their mouldings. */
  readonly divided: number;
  readonly failed: number;
  /** Seconds the oldest has been waiting; null: none waits. */
  readonly oldest: number | null;
}

export interface ServiceStatus {
  readonly workers: readonly Heartbeat[];
  /** Workers not heard of lately that did not say goodbye. */
  readonly lost: readonly Heartbeat[];
  readonly queues: Readonly<
    Record<Urgency, { readonly batches: QueueDepth; readonly mouldings: QueueDepth }>
  >;
  /** Newest first. */
  readonly errors: readonly ListedError[];
  /** Null where nobody asked for it: a worker's figures of itself leave it out, since every record is looked at. */
  readonly toSaw: UncutPlans | null;
}

export type Queues = Readonly<Record<string, Queue>>;

/** The oldest of a list that is in no order of age is looked for among so many at each end. */
const LOOKED_AT = 100;

/** When the oldest that waits was added, milliseconds since 1970; infinite: none waits. */
async function oldestOf(queue: Queue): Promise<number> {
  const some = [
    ...(await queue.getJobs(['wait'], 0, 0, true)),
    ...(await queue.getJobs(['prioritized'], 0, LOOKED_AT - 1, true)),
    ...(await queue.getJobs(['prioritized'], 0, LOOKED_AT - 1, false)),
  ];
  return Math.min(Number.POSITIVE_INFINITY, ...some.flatMap((job) => job?.timestamp ?? []));
}

/** Of several queues together. */
async function depth(queues: readonly (Queue | undefined)[], now: number): Promise<QueueDepth> {
  const sum = { waiting: 0, active: 0, delayed: 0, divided: 0, failed: 0 };
  let oldest = Number.POSITIVE_INFINITY;
  for (const queue of queues) {
    if (queue === undefined) throw new PairstopError('PS_INTERNAL', 'a queue is missing');
    const states = ['wait', 'prioritized', 'active', 'delayed', 'waiting-children', 'failed'] as const;
    const counts = await queue.getJobCounts(...states);
    sum.waiting += (counts.wait ?? 0) + (counts.prioritized ?? 0);
    sum.active += counts.active ?? 0;
    sum.delayed += counts.delayed ?? 0;
    sum.divided += counts['waiting-children'] ?? 0;
    sum.failed += counts.failed ?? 0;
    oldest = Math.min(oldest, await oldestOf(queue));
  }
  return { ...sum, oldest: Number.isFinite(oldest) ? Math.max(0, now - oldest) / SECOND : null };
}

export async function serviceStatus(redis: Redis, keys: Keys, queues: Queues): Promise<ServiceStatus> {
  const now = await redisNow(redis);
  const of = async (urgency: Urgency) => ({
    batches: await depth([queues[batchQueue(urgency)]], now),
    mouldings: await depth(
      [partQueue(urgency), ...(urgency === 'now' ? [SMALL_PARTS] : [])].map((name) => queues[name]),
      now,
    ),
  });
  const { living, lost } = await knownWorkers(redis, keys);
  return {
    workers: living,
    lost,
    queues: { now: await of('now'), tonight: await of('tonight') },
    errors: await listedErrors(redis, keys),
    toSaw: null,
  };
}
