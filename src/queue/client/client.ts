/** The service from outside: submit a batch, watch it, fetch its plan. Nothing here waits without a bound. */
import { compared } from '../../compare/compare.js';
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan } from '../../documents/plan/types.js';
import { PairstopError } from '../../errors.js';
import { comparisonOf } from '../../run/compare-part.js';
import { documentOf, planOf } from '../../run/documents.js';
import { envelopeOf, fingerprintOf } from '../../run/envelope.js';
import type { WorkKind } from '../../run/solver/tasks.js';
import { refuseUncuttable } from '../../stock/refusals.js';
import { batchQueue, jobIdOf, URGENCIES } from '../names.js';
import { QueueRackDesk } from '../rack/desk.js';
import type { RackDesk } from '../rack/desk-api.js';
import { errorFrom } from '../record/figures.js';
import type { BatchState } from '../record/steps.js';
import { isOutage } from '../redis/outage.js';
import { within } from '../redis/waiting.js';
import { spoiledRun } from '../worker/intact.js';
import { addBatch } from './add-batch.js';
import type { Client, ResultOptions, Submission, WorkChoice } from './client-api.js';
import { type ClientOptions, readOptions, requireId, requireWait, requireWork } from './options.js';
import { Session } from './session.js';
import {
  type BatchEnd,
  type BatchStatus,
  batchEnd,
  batchStatus,
  type ServiceStatus,
  serviceStatus,
} from './status.js';
import { awaitEnd, type Inquiry, type WatchOptions, watchBatch } from './watch.js';

const DAY = 86_400_000;
/** A batch that may not start for longer than this is a slip of the pen. */
const LATEST_START = 366 * DAY;

export type { Client, ClientOptions, ResultOptions, Submission, WorkChoice };

function readInput(batch: BatchDocument | string | Uint8Array): ReadBatchResult {
  if (typeof batch === 'string' || batch instanceof Uint8Array) return readBatchDocument(batch);
  return { document: batch, batch: checkBatch(batch) };
}

class QueueClient implements Client {
  readonly #session: Session;
  readonly #retention: number;
  readonly rack: RackDesk;

  constructor(options: ClientOptions) {
    const read = readOptions(options);
    this.#session = new Session(read);
    this.#retention = read.retention;
    this.rack = new QueueRackDesk(this.#session, async (id) => ({
      plan: await this.result(id),
      batch: checkBatch(await this.batch(id)),
    }));
  }

  #inquiry<T>(id: string, work: WorkKind, ask: () => Promise<T>): Inquiry<T> {
    const again = (error: unknown): boolean => this.#session.mayComeBack && isOutage(error);
    return { ask, again, command: `pairstop status ${id}${work === 'plan' ? '' : ' --compare'}` };
  }

  async submit(
    given: BatchDocument | string | Uint8Array,
    { work = 'plan' }: WorkChoice = {},
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
    const identity = { id: batch.id, fingerprint: fingerprintOf(document, work), urgency };
    const jobId = jobIdOf(batch.id, work);
    return this.#session.ask('submitting', async () => {
      let claim = await this.#session.store.claim(jobId, identity, this.#session.who);
      if (claim.outcome === 'same' && claim.state === 'done') {
        const spoiled = await spoiledRun(this.#session.store, jobId, work, identity.fingerprint);
        if (spoiled !== null)
          claim = await this.#session.store.claim(jobId, identity, this.#session.who, spoiled);
      }
      const { outcome, fingerprint, state, jobExists } = claim;
      if (outcome === 'newer') {
        throw new PairstopError(
          'PS_VERSION',
          `the record of batch ${JSON.stringify(batch.id)} was written by a newer version of Pairstop; upgrade this one`,
        );
      }
      if (outcome === 'other') {
        throw new PairstopError(
          'PS_CONFLICT',
          `batch ${JSON.stringify(batch.id)} has been submitted with other content: ` +
            `fingerprint ${fingerprint} there, ${identity.fingerprint} here`,
        );
      }
      if (state === 'waiting' || state === 'running') {
        const queue = this.#session.queue(batchQueue(urgency));
        await addBatch(queue, this.#session.store, {
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

  async status(id: string, { work = 'plan' }: WorkChoice = {}): Promise<BatchStatus> {
    const jobId = jobOf(id, work);
    const status = await this.#session.ask('asking for the status', () =>
      batchStatus(this.#session.redis, this.#session.keys, this.#session.store, jobId),
    );
    if (status === null) throw unknown(id);
    return status;
  }

  watch(
    id: string,
    { work = 'plan', ...options }: WatchOptions & WorkChoice = {},
  ): AsyncGenerator<BatchStatus, void, undefined> {
    const channel = this.#session.keys.events(jobOf(id, work));
    if (options.timeout !== undefined) requireWait('timeout', options.timeout);
    const inquiry = this.#inquiry(id, work, () => this.status(id, { work }));
    return watchBatch(inquiry, this.#session.listener, channel, options);
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
    const inquiry = this.#inquiry(id, work, () => this.#end(jobId, id));
    const end = await awaitEnd(id, inquiry, this.#session.listener, this.#session.keys.events(jobId), wait);
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
    const end = await this.#session.ask('asking for the result', () => batchEnd(this.#session.store, jobId));
    if (end === null) throw unknown(id);
    return end;
  }

  async #document(jobId: string, id: string, field: 'plan' | 'partial'): Promise<Buffer> {
    const [sealed] = await this.#session.ask('fetching the result', () =>
      this.#session.store.read(jobId, [field]),
    );
    if (sealed !== undefined) return sealed;
    const of = `of batch ${JSON.stringify(id)}`;
    if (field === 'partial') throw new PairstopError('PS_UNKNOWN', `no partial plan ${of} is stored`);
    throw new PairstopError(
      'PS_STORE',
      `the result ${of} is gone; submit the batch again to have it made anew`,
    );
  }

  async batch(id: string, { work = 'plan' }: WorkChoice = {}): Promise<BatchDocument> {
    const jobId = jobOf(id, work);
    const { fingerprint } = await this.#end(jobId, id);
    const [sealed] = await this.#session.ask('fetching the batch', () =>
      this.#session.store.read(jobId, ['batch']),
    );
    if (sealed === undefined) {
      throw new PairstopError('PS_PENDING', `no worker has taken batch ${JSON.stringify(id)} yet`);
    }
    return documentOf(fingerprint, sealed);
  }

  async cancel(id: string, { work = 'plan' }: WorkChoice = {}): Promise<BatchState> {
    const jobId = jobOf(id, work);
    const state = await this.#session.ask('cancelling', () =>
      this.#session.store.cancel(jobId, this.#session.who),
    );
    if (state === 'unknown') throw unknown(id);
    // Cancelled it is already; what is left to clear away, a worker would.
    if (state === 'cancelled')
      await within(this.#session.patience, 'clearing', this.#clear(jobId)).catch(() => {});
    return state;
  }

  /** Jobs nobody has taken yet need not stay; a worker that comes upon one finds its batch ended. */
  async #clear(jobId: string): Promise<void> {
    for (const urgency of URGENCIES) {
      try {
        const job = await this.#session.queue(batchQueue(urgency)).getJob(jobId);
        await job?.remove({ removeChildren: true });
      } catch (error) {
        // Some of it is in a worker's hands, which ends it.
        if (isOutage(error)) return;
      }
    }
  }

  service(): Promise<ServiceStatus> {
    const { redis, keys, queues } = this.#session;
    return this.#session.ask('asking for the state of the service', () => serviceStatus(redis, keys, queues));
  }

  close(): Promise<void> {
    return this.#session.close();
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
