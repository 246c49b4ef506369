/** The service from outside: submit a batch, watch it, fetch its plan. Nothing here waits without a bound. */
import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { compared } from '../compare/compare.js';
import type { Comparison } from '../compare/types.js';
import { PairstopError } from '../errors.js';
import { refuseUncuttable } from '../plan/here.js';
import type { Plan } from '../plan/types.js';
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../read/batch.js';
import type { BatchDocument } from '../read/batch-schema.js';
import { comparisonOf } from '../run/compare-part.js';
import { documentOf, planOf } from '../run/documents.js';
import { envelopeOf, printOf } from '../run/envelope.js';
import type { Work } from '../run/tasks.js';
import { addBatch } from './add-batch.js';
import { connect, hangUp, openRedis } from './connection.js';
import { errorFrom } from './figures.js';
import { Listener } from './listener.js';
import { batchQueue, jobIdOf, type Keys, keysOf, partQueue, URGENCIES } from './names.js';
import { isOutage } from './outage.js';
import {
  type BatchEnd,
  type BatchStatus,
  batchEnd,
  batchStatus,
  type ServiceStatus,
  serviceStatus,
} from './status.js';
import { type BatchState, Store } from './store.js';
import { persist, within } from './waiting.js';
import { awaitEnd, type WatchOptions, watchBatch } from './watch.js';

const SECOND = 1_000;
const DAY = 86_400 * SECOND;
const CLOSE_MS = 2_000;
/** A batch that may not start for longer than this is a slip of the pen. */
const LATEST_START = 366 * DAY;

export interface ClientOptions {
  /** `redis://` or `rediss://` URL; by default REDIS_URL, or the local one. */
  readonly connection?: string;
  /** The shop's prefix; by default PAIRSTOP_PREFIX, or "pairstop". */
  readonly prefix?: string;
  /** Milliseconds any call may wait for Redis; by default 10 s. */
  readonly patience?: number;
  /** Milliseconds batches submitted here are kept once finished; by default 30 days. */
  readonly retention?: number;
}

export interface Submission {
  readonly id: string;
  readonly fingerprint: string;
  /** `again`: it had failed or been cancelled, and is tried anew; `same`: it is known already. */
  readonly outcome: 'new' | 'again' | 'same';
  readonly state: BatchState;
}

/** Planning and comparing a batch are two jobs, each with its own state and result. */
export interface Asked {
  /** By default the plan. */
  readonly work?: Work;
}

export interface ResultOptions {
  /** Milliseconds to wait for the plan; by default 0. */
  readonly wait?: number;
  /** Of a failed batch, the plan of those mouldings that have one. */
  readonly partial?: boolean;
}

/** All methods throw PairstopError: PS_REDIS when Redis does not answer in time, PS_STORE for damaged records. */
export interface Client {
  /** Throws PS_JSON, PS_BATCH for a batch that is refused, PS_CONFLICT when its id stands for other content. */
  submit(batch: BatchDocument | string | Uint8Array, asked?: Asked): Promise<Submission>;
  /** Throws PS_UNKNOWN. */
  status(id: string, asked?: Asked): Promise<BatchStatus>;
  /** Each change until the batch is done, failed or cancelled. Throws PS_UNKNOWN, PS_PENDING after `timeout`. */
  watch(id: string, options?: WatchOptions & Asked): AsyncGenerator<BatchStatus, void, undefined>;
  /** Throws PS_UNKNOWN, PS_PENDING, PS_FAILED or the batch's own error, PS_CANCELLED. */
  result(id: string, options?: ResultOptions): Promise<Plan>;
  /** Of a batch submitted to be compared; as `result`. */
  comparison(id: string, options?: ResultOptions): Promise<Comparison>;
  /** The batch as it was submitted, once a worker has taken it. Throws PS_UNKNOWN, PS_PENDING. */
  batch(id: string, asked?: Asked): Promise<BatchDocument>;
  /** Ends waiting or running work; answers the state it is in. Throws PS_UNKNOWN. */
  cancel(id: string, asked?: Asked): Promise<BatchState>;
  service(): Promise<ServiceStatus>;
  close(): Promise<void>;
}

function readInput(batch: BatchDocument | string | Uint8Array): ReadBatchResult {
  if (typeof batch === 'string' || batch instanceof Uint8Array) return readBatchDocument(batch);
  return { document: batch, batch: checkBatch(batch) };
}

class QueueClient implements Client {
  readonly #url: string;
  readonly #prefix: string;
  readonly #patience: number;
  readonly #retention: number;
  readonly #keys: Keys;
  readonly #redis: Redis;
  readonly #listener: Listener;
  readonly #store: Store;
  readonly #queues: Record<string, Queue> = {};
  #closed = false;

  constructor(options: ClientOptions) {
    this.#url = options.connection ?? process.env.REDIS_URL ?? 'redis://127.0.0.1:6379';
    this.#prefix = options.prefix ?? process.env.PAIRSTOP_PREFIX ?? 'pairstop';
    this.#patience = options.patience ?? 10 * SECOND;
    this.#retention = options.retention ?? 30 * DAY;
    this.#keys = keysOf(this.#prefix);
    this.#redis = openRedis(this.#url, 'asking');
    this.#listener = new Listener(this.#url);
    this.#store = new Store(this.#redis, this.#keys, this.#retention);
  }

  /** Everything asked here is safe to ask twice, so an outage shorter than the patience is not noticed. */
  async #ask<T>(what: string, ask: () => Promise<T>): Promise<T> {
    if (this.#closed) throw new PairstopError('PS_USAGE', 'this client has been closed');
    const end = Date.now() + this.#patience;
    const left = (): number => Math.max(1, end - Date.now());
    return within(
      this.#patience + SECOND,
      what,
      persist(this.#patience, what, async () => {
        await connect(this.#redis, this.#url, left());
        return ask();
      }),
    );
  }

  #queue(name: string): Queue {
    const known = this.#queues[name];
    if (known !== undefined) return known;
    const queue = new Queue(name, { connection: this.#redis, prefix: this.#prefix });
    queue.on('error', () => {});
    this.#queues[name] = queue;
    return queue;
  }

  async submit(
    given: BatchDocument | string | Uint8Array,
    { work = 'plan' }: Asked = {},
  ): Promise<Submission> {
    const { document, batch } = readInput(given);
    refuseUncuttable(batch);
    if (work === 'compare') compared(batch);
    const { urgency, notBefore } = batch.options;
    const delay = notBefore === null ? 0 : Math.max(0, notBefore - Date.now());
    if (delay > LATEST_START) {
      const allowed = 'within a year from now';
      throw new PairstopError(
        'PS_BATCH',
        `options.notBefore: given ${document.options?.notBefore ?? ''}; allowed: ${allowed}`,
      );
    }
    const identity = { id: batch.id, fingerprint: printOf(document, work), urgency };
    const jobId = jobIdOf(batch.id, work);
    return this.#ask('submitting', async () => {
      const { outcome, fingerprint, state, jobExists } = await this.#store.claim(jobId, identity);
      if (outcome === 'other') {
        throw new PairstopError(
          'PS_CONFLICT',
          `batch ${JSON.stringify(batch.id)} has been submitted with other content: ` +
            `fingerprint ${fingerprint} there, ${identity.fingerprint} here`,
        );
      }
      if (state === 'waiting' || state === 'running') {
        const queue = this.#queue(batchQueue(urgency));
        await addBatch(queue, this.#store, {
          jobId,
          exists: jobExists,
          payload: envelopeOf(document, work),
          delay,
          retention: this.#retention,
        });
      }
      return { id: batch.id, fingerprint, outcome, state };
    });
  }

  async status(id: string, { work = 'plan' }: Asked = {}): Promise<BatchStatus> {
    const status = await this.#ask('asking for the status', () =>
      batchStatus(this.#redis, this.#store, jobIdOf(id, work)),
    );
    if (status === null) throw unknown(id);
    return status;
  }

  watch(
    id: string,
    { work = 'plan', ...options }: WatchOptions & Asked = {},
  ): AsyncGenerator<BatchStatus, void, undefined> {
    const channel = this.#keys.events(jobIdOf(id, work));
    return watchBatch(() => this.status(id, { work }), this.#listener, channel, options);
  }

  async result(id: string, options: ResultOptions = {}): Promise<Plan> {
    const { fingerprint, sealed } = await this.#result(jobIdOf(id), id, options);
    const plan = planOf(fingerprint, sealed);
    if (plan.batch !== id) throw new PairstopError('PS_STORE', 'the stored plan is that of another batch');
    return plan;
  }

  async comparison(id: string, options: ResultOptions = {}): Promise<Comparison> {
    const { fingerprint, sealed } = await this.#result(jobIdOf(id, 'compare'), id, options);
    const comparison = comparisonOf(fingerprint, sealed);
    if (comparison.batch !== id) {
      throw new PairstopError('PS_STORE', 'the stored comparison is that of another batch');
    }
    return comparison;
  }

  async #result(
    jobId: string,
    id: string,
    { wait = 0, partial = false }: ResultOptions,
  ): Promise<{ readonly fingerprint: string; readonly sealed: Buffer }> {
    const channel = this.#keys.events(jobId);
    const end = await awaitEnd(id, () => this.#end(jobId, id), this.#listener, channel, wait);
    const { state, fingerprint, failure } = end;
    switch (state) {
      case 'waiting':
      case 'running':
        throw new PairstopError(
          'PS_PENDING',
          `batch ${JSON.stringify(id)} has no result yet: it is ${state}`,
        );
      case 'cancelled':
        throw new PairstopError('PS_CANCELLED', `batch ${JSON.stringify(id)} has been cancelled`);
      case 'failed':
        if (partial) return { fingerprint, sealed: await this.#document(jobId, id, 'partial') };
        throw errorFrom(failure ?? { code: 'PS_FAILED', message: 'the batch has failed', problems: [] });
      case 'done':
        return { fingerprint, sealed: await this.#document(jobId, id, 'plan') };
      default:
        return state satisfies never;
    }
  }

  async #end(jobId: string, id: string): Promise<BatchEnd> {
    const end = await this.#ask('asking for the result', () => batchEnd(this.#store, jobId));
    if (end === null) throw unknown(id);
    return end;
  }

  async #document(jobId: string, id: string, field: 'plan' | 'partial'): Promise<Buffer> {
    const [sealed] = await this.#ask('fetching the result', () => this.#store.read(jobId, [field]));
    if (sealed === undefined) {
      throw new PairstopError('PS_UNKNOWN', `no ${field} is stored for batch ${JSON.stringify(id)}`);
    }
    return sealed;
  }

  async batch(id: string, { work = 'plan' }: Asked = {}): Promise<BatchDocument> {
    const jobId = jobIdOf(id, work);
    const { fingerprint } = await this.#end(jobId, id);
    const [sealed] = await this.#ask('fetching the batch', () => this.#store.read(jobId, ['batch']));
    if (sealed === undefined) {
      throw new PairstopError('PS_PENDING', `no worker has taken batch ${JSON.stringify(id)} yet`);
    }
    return documentOf(fingerprint, sealed);
  }

  async cancel(id: string, { work = 'plan' }: Asked = {}): Promise<BatchState> {
    const jobId = jobIdOf(id, work);
    const state = await this.#ask('cancelling', () => this.#store.cancel(jobId));
    if (state === 'unknown') throw unknown(id);
    if (state === 'cancelled') await this.#clear(jobId);
    return state;
  }

  /** Jobs nobody has taken yet need not stay; a worker that comes upon one finds its batch ended. */
  async #clear(jobId: string): Promise<void> {
    for (const urgency of URGENCIES) {
      try {
        const job = await this.#queue(batchQueue(urgency)).getJob(jobId);
        await job?.remove({ removeChildren: true });
      } catch (error) {
        // Some of it is in a worker's hands, which ends it.
        if (isOutage(error)) return;
      }
    }
  }

  service(): Promise<ServiceStatus> {
    for (const urgency of URGENCIES) {
      this.#queue(batchQueue(urgency));
      this.#queue(partQueue(urgency));
    }
    return this.#ask('asking for the state of the service', () =>
      serviceStatus(this.#redis, this.#keys, this.#queues),
    );
  }

  async close(): Promise<void> {
    if (this.#closed) return;
    this.#closed = true;
    const queues = Object.values(this.#queues);
    await within(CLOSE_MS, 'closing', Promise.all(queues.map((queue) => queue.close()))).catch(() => {});
    this.#listener.close();
    hangUp(this.#redis);
  }
}

function unknown(id: string): PairstopError {
  return new PairstopError(
    'PS_UNKNOWN',
    `no batch is known under the id ${JSON.stringify(id.slice(0, 200))}`,
  );
}

export function createClient(options: ClientOptions = {}): Client {
  return new QueueClient(options);
}

/** Submits one batch and closes the connection. */
export async function submitBatch(
  batch: BatchDocument | string | Uint8Array,
  options: ClientOptions = {},
): Promise<Submission> {
  const client = createClient(options);
  try {
    return await client.submit(batch);
  } finally {
    await client.close();
  }
}
