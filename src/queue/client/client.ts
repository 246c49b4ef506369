/** The service from outside: submit a batch, watch it, fetch its plan. Nothing here waits without a bound. */
import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { compared } from '../../compare/compare.js';
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan } from '../../documents/plan/types.js';
import { PairstopError } from '../../errors.js';
import { refuseUncuttable } from '../../plan/here.js';
import { comparisonOf } from '../../run/compare-part.js';
import { documentOf, planOf } from '../../run/documents.js';
import { envelopeOf, printOf } from '../../run/envelope.js';
import type { WorkKind } from '../../run/solver/tasks.js';
import { batchQueue, jobIdOf, type Keys, keysOf, partQueue, URGENCIES } from '../names.js';
import { errorFrom } from '../record/figures.js';
import { type BatchState, Store } from '../record/store.js';
import { connect, hangUp, openRedis, redisName } from '../redis/connection.js';
import { isDamage, isOutage, RefusedByRedis, refusalIn } from '../redis/outage.js';
import { persist, within } from '../redis/waiting.js';
import { spoiledRun } from '../worker/intact.js';
import { addBatch } from './add-batch.js';
import { type ClientOptions, readOptions, requireId, requireWait, requireWork } from './asked.js';
import type { Asked, Client, ResultOptions, Submission } from './client-api.js';
import { Listener } from './listener.js';
import {
  type BatchEnd,
  type BatchStatus,
  batchEnd,
  batchStatus,
  type ServiceStatus,
  serviceStatus,
} from './status.js';
import { type Asking, awaitEnd, type WatchOptions, watchBatch } from './watch.js';

const SECOND = 1_000;
const DAY = 86_400 * SECOND;
const CLOSE_MS = 2_000;
/** A batch that may not start for longer than this is a slip of the pen. */
const LATEST_START = 366 * DAY;

export type { Asked, Client, ClientOptions, ResultOptions, Submission };

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
  /** Redis has answered: if it is away later, that is an outage and not a slip in the settings. */
  #reached = false;
  #closed = false;

  constructor(options: ClientOptions) {
    const { connection, prefix, patience, retention } = readOptions(options);
    this.#url = connection;
    this.#prefix = prefix;
    this.#patience = patience;
    this.#retention = retention;
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
        try {
          const answer = await ask();
          this.#reached = true;
          return answer;
        } catch (error) {
          const refusal = refusalIn(error);
          if (refusal !== null) throw new RefusedByRedis(redisName(this.#url), refusal);
          if (isDamage(error)) throw new PairstopError('PS_STORE', `what is stored is damaged: ${what}`);
          throw error;
        }
      }),
    );
  }

  #asking<T>(id: string, work: WorkKind, ask: () => Promise<T>): Asking<T> {
    const again = (error: unknown): boolean => this.#reached && !this.#closed && isOutage(error);
    return { ask, again, command: `pairstop status ${id}${work === 'plan' ? '' : ' --compare'}` };
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
    requireWork(work);
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
      let claim = await this.#store.claim(jobId, identity);
      if (claim.outcome === 'same' && claim.state === 'done') {
        const spoiled = await spoiledRun(this.#store, jobId, work, identity.fingerprint);
        if (spoiled !== null) claim = await this.#store.claim(jobId, identity, spoiled);
      }
      const { outcome, fingerprint, state, jobExists } = claim;
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
    const jobId = jobOf(id, work);
    const status = await this.#ask('asking for the status', () =>
      batchStatus(this.#redis, this.#keys, this.#store, jobId),
    );
    if (status === null) throw unknown(id);
    return status;
  }

  watch(
    id: string,
    { work = 'plan', ...options }: WatchOptions & Asked = {},
  ): AsyncGenerator<BatchStatus, void, undefined> {
    const channel = this.#keys.events(jobOf(id, work));
    if (options.timeout !== undefined) requireWait('timeout', options.timeout);
    const asking = this.#asking(id, work, () => this.status(id, { work }));
    return watchBatch(asking, this.#listener, channel, options);
  }

  async result(id: string, options: ResultOptions = {}): Promise<Plan> {
    const { fingerprint, sealed } = await this.#result('plan', id, options);
    const plan = planOf(fingerprint, sealed);
    if (plan.batch !== id) throw new PairstopError('PS_STORE', 'the stored plan is that of another batch');
    return plan;
  }

  async comparison(id: string, options: ResultOptions = {}): Promise<Comparison> {
    const { fingerprint, sealed } = await this.#result('compare', id, options);
    const comparison = comparisonOf(fingerprint, sealed);
    if (comparison.batch !== id) {
      throw new PairstopError('PS_STORE', 'the stored comparison is that of another batch');
    }
    return comparison;
  }

  async #result(
    work: WorkKind,
    id: string,
    { wait = 0, partial = false }: ResultOptions,
  ): Promise<{ readonly fingerprint: string; readonly sealed: Buffer }> {
    const jobId = jobOf(id, work);
    requireWait('wait', wait);
    const asking = this.#asking(id, work, () => this.#end(jobId, id));
    const end = await awaitEnd(id, asking, this.#listener, this.#keys.events(jobId), wait);
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
    if (sealed !== undefined) return sealed;
    const of = `of batch ${JSON.stringify(id)}`;
    if (field === 'partial') throw new PairstopError('PS_UNKNOWN', `no partial plan ${of} is stored`);
    throw new PairstopError(
      'PS_STORE',
      `the result ${of} is gone; submit the batch again to have it made anew`,
    );
  }

  async batch(id: string, { work = 'plan' }: Asked = {}): Promise<BatchDocument> {
    const jobId = jobOf(id, work);
    const { fingerprint } = await this.#end(jobId, id);
    const [sealed] = await this.#ask('fetching the batch', () => this.#store.read(jobId, ['batch']));
    if (sealed === undefined) {
      throw new PairstopError('PS_PENDING', `no worker has taken batch ${JSON.stringify(id)} yet`);
    }
    return documentOf(fingerprint, sealed);
  }

  async cancel(id: string, { work = 'plan' }: Asked = {}): Promise<BatchState> {
    const jobId = jobOf(id, work);
    const state = await this.#ask('cancelling', () => this.#store.cancel(jobId));
    if (state === 'unknown') throw unknown(id);
    // Cancelled it is already; what is left to clear away, a worker would.
    if (state === 'cancelled') await within(this.#patience, 'clearing', this.#clear(jobId)).catch(() => {});
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

/** Throws PS_USAGE. */
function jobOf(id: string, work: WorkKind): string {
  requireId(id);
  requireWork(work);
  return jobIdOf(id, work);
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
