/** The service from outside: submit a batch, watch it, fetch its plan. Nothing here waits without a bound. */
import type { Readable } from 'node:stream';
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Quote } from '../../documents/quote/schema.js';
import { PairstopError } from '../../errors.js';
import { comparisonOf, documentOf, planOf, storedText } from '../../processes/documents.js';
import { envelopeOf, fingerprintOf } from '../../processes/envelope.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import { railsIn } from '../../rails/rails.js';
import { refuseUncuttable } from '../../stock/refusals.js';
import { comparedOrders, ResolvedBatch } from '../../stock/resolved.js';
import { batchQueue, jobIdOf, NIGHT_QUEUE, revisionOf, URGENCIES } from '../names.js';
import { askQuote, holdOf, type QuoteOptions } from '../night/ask-quote.js';
import { QueueNightDesk } from '../night/desk.js';
import type { NightDesk } from '../night/desk-api.js';
import { placeFor, scheduleClosing } from '../night/joining.js';
import { QueueRackDesk } from '../rack/desk.js';
import type { RackDesk } from '../rack/desk-api.js';
import { errorFrom } from '../record/figures.js';
import type { BatchState } from '../record/steps.js';
import { isOutage } from '../redis/outage.js';
import { sleep, within } from '../redis/waiting.js';
import { RAILS_ALWAYS, railsMost, tooManyRails } from '../room.js';
import { spoiledRun } from '../worker/intact.js';
import { addBatch } from './add-batch.js';
import type {
  Client,
  ResultOptions,
  RevisionChoice,
  Submission,
  SubmitOptions,
  WorkChoice,
} from './client-api.js';
import { conflict } from './conflict.js';
import { type BatchPage, listBatches, type PageOptions } from './list.js';
import {
  type ClientOptions,
  readOptions,
  requireId,
  requireRevision,
  requireWait,
  requireWork,
} from './options.js';
import { Session } from './session.js';
import {
  type BatchEnd,
  type BatchStatus,
  batchEnd,
  batchStatus,
  type ServiceStatus,
  serviceStatus,
} from './status.js';
import { toSawOf } from './to-saw.js';
import { awaitEnd, type Inquiry, type WatchOptions, watchBatch } from './watch.js';

const DAY = 86_400_000;
/** A batch that may not start for longer than this is a slip of the pen. */
const LATEST_START = 366 * DAY;
const SETTLE_MS = 5_000;
const SETTLE_LOOK_MS = 50;

export type { Client, ClientOptions, ResultOptions, RevisionChoice, Submission, SubmitOptions, WorkChoice };

function readInput(batch: BatchDocument | string | Uint8Array): ReadBatchResult {
  if (typeof batch === 'string' || batch instanceof Uint8Array) return readBatchDocument(batch);
  return { document: batch, batch: checkBatch(batch) };
}

class QueueClient implements Client {
  readonly #session: Session;
  readonly #retention: number;
  readonly rack: RackDesk;
  readonly night: NightDesk;

  constructor(options: ClientOptions) {
    const read = readOptions(options);
    this.#session = new Session(read);
    this.#retention = read.retention;
    this.night = new QueueNightDesk(this.#session);
    this.rack = new QueueRackDesk(this.#session, async (id) => {
      const plan = await this.result(id);
      if (plan.batch !== id) throw cutWith(id, plan.batch);
      return { plan, batch: checkBatch(await this.batch(id)) };
    });
  }

  #inquiry<T>(id: string, work: WorkKind, ask: () => Promise<T>): Inquiry<T> {
    const again = (error: unknown): boolean => this.#session.mayComeBack && isOutage(error);
    return { ask, again, command: `pairstop status ${id}${work === 'plan' ? '' : ' --compare'}` };
  }

  async submit(
    given: BatchDocument | string | Uint8Array,
    { work = 'plan', replace = false }: SubmitOptions = {},
  ): Promise<Submission> {
    requireWork(work);
    const { document, batch } = readInput(given);
    const resolved = new ResolvedBatch(batch);
    refuseUncuttable(resolved);
    if (work === 'compare') comparedOrders(resolved);
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
    const rails = railsIn(batch);
    return this.#session.ask('submitting', async () => {
      const most =
        rails > RAILS_ALWAYS ? await railsMost(this.#session.redis, this.#session.keys, urgency) : null;
      if (most !== null && rails > most) throw tooManyRails(rails, most);
      const { store, who } = this.#session;
      const pooled = batch.options.pool && work === 'plan';
      // What a quote holds is for the order itself.
      if (batch.rack !== null) await store.cancel(jobIdOf(holdOf(batch.id)), who);
      const pool = pooled ? await placeFor(store, document, identity.fingerprint) : null;
      let claim = await store.claim(jobId, identity, who, { replace, pool });
      if (claim.outcome === 'same' && claim.state === 'done' && !pooled) {
        const spoiled = await spoiledRun(this.#session.store, jobId, work, identity.fingerprint);
        if (spoiled !== null)
          claim = await this.#session.store.claim(jobId, identity, this.#session.who, { spoiled });
      }
      const { outcome, fingerprint, state, jobExists, revision } = claim;
      if (outcome === 'newer') {
        throw new PairstopError(
          'PS_VERSION',
          `the record of batch ${JSON.stringify(batch.id)} was written by a newer version of Pairstop; upgrade this one`,
        );
      }
      if (outcome === 'other' || outcome === 'cut' || outcome === 'night') {
        throw await conflict(this.#session.store, jobId, {
          document,
          fingerprint: identity.fingerprint,
          outcome,
          state,
        });
      }
      if (outcome === 'replaced') await this.#makeRoom(jobId);
      if (pooled) await scheduleClosing(this.#session.queue(NIGHT_QUEUE), store);
      else if (state === 'waiting' || state === 'running') {
        const queue = this.#session.queue(batchQueue(urgency));
        await addBatch(queue, this.#session.store, {
          jobId,
          exists: jobExists,
          payload: envelopeOf(document, work, given instanceof Uint8Array ? given : undefined),
          delay,
          retention: this.#retention,
        });
      }
      return { id: batch.id, fingerprint, outcome, state, revision };
    });
  }

  async quote(order: BatchDocument | string | Uint8Array, options: QuoteOptions = {}): Promise<Quote> {
    return askQuote(this.#session, readInput(order).document, options);
  }

  async status(id: string, { work = 'plan', revision }: RevisionChoice = {}): Promise<BatchStatus> {
    const jobId = await this.#recordOf(id, work, revision);
    const status = await this.#session.ask('asking for the status', () =>
      batchStatus(this.#session.redis, this.#session.keys, this.#session.store, jobId),
    );
    if (status === null) throw unknown(id);
    return status;
  }

  list(options: PageOptions = {}): Promise<BatchPage> {
    const { redis, keys } = this.#session;
    return this.#session.ask('listing batches', () => listBatches(redis, keys, options));
  }

  /** What a batch's record is stored under; an earlier revision has one of its own. Throws PS_USAGE, PS_UNKNOWN. */
  async #recordOf(id: string, work: WorkKind, revision: number | undefined): Promise<string> {
    const jobId = jobOf(id, work);
    if (revision === undefined) return jobId;
    requireRevision(revision);
    const { store } = this.#session;
    const [newest] = await this.#session.ask('asking for the revision', () =>
      store.read(jobId, ['revision']),
    );
    return Number(newest?.toString() ?? 1) === revision ? jobId : revisionOf(jobId, revision);
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
    // A batch of a night has the plan of its night.
    const own = plan.batch === id || plan.batches?.some(({ batch }) => batch === id) === true;
    if (!own) throw new PairstopError('PS_STORE', 'the stored plan is that of another batch');
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
    { wait = 0, partial = false, revision }: ResultOptions,
  ): Promise<{ readonly fingerprint: string; readonly sealed: Buffer }> {
    const jobId = await this.#recordOf(id, work, revision);
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
      case 'done': {
        const night = await this.#nightOf(jobId);
        if (night === null) return { fingerprint, sealed: await this.#document(jobId, id, 'plan') };
        const of = await this.#end(night, id);
        return { fingerprint: of.fingerprint, sealed: await this.#document(night, id, 'plan') };
      }
      default:
        return state satisfies never;
    }
  }

  /** Job id of the night that a batch is planned in. */
  async #nightOf(jobId: string): Promise<string | null> {
    const [night] = await this.#session.ask('asking for the night', () =>
      this.#session.store.read(jobId, ['night']),
    );
    return night?.toString() ?? null;
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

  async batch(id: string, asked: RevisionChoice = {}): Promise<BatchDocument> {
    const { fingerprint, sealed } = await this.#batch(id, asked);
    return documentOf(fingerprint, sealed);
  }

  async #batch(
    id: string,
    { work = 'plan', revision }: RevisionChoice,
  ): Promise<{ readonly fingerprint: string; readonly sealed: Buffer }> {
    const jobId = await this.#recordOf(id, work, revision);
    const { fingerprint } = await this.#end(jobId, id);
    const [sealed] = await this.#session.ask('fetching the batch', () =>
      this.#session.store.read(jobId, ['batch']),
    );
    if (sealed === undefined) {
      throw new PairstopError('PS_PENDING', `no worker has taken batch ${JSON.stringify(id)} yet`);
    }
    return { fingerprint, sealed };
  }

  async text(
    of: 'result' | 'batch',
    id: string,
    { work = 'plan', ...options }: ResultOptions & WorkChoice = {},
  ): Promise<Readable> {
    const { fingerprint, sealed } =
      of === 'batch' ? await this.#batch(id, { work, ...options }) : await this.#result(work, id, options);
    const result = work === 'plan' ? 'plan' : 'comparison';
    return storedText(of === 'batch' ? 'batch' : result, fingerprint, sealed);
  }

  async cancel(id: string, { work = 'plan' }: WorkChoice = {}): Promise<BatchState> {
    const jobId = jobOf(id, work);
    const cancelled = await this.#session.ask('cancelling', () =>
      this.#session.store.cancel(jobId, this.#session.who),
    );
    if (cancelled.kind === 'unknown') throw unknown(id);
    if (cancelled.kind === 'night') throw inNight(id, cancelled.night);
    const { state } = cancelled;
    // Cancelled it is already; what is left to clear away, a worker would.
    if (state === 'cancelled')
      await within(this.#session.patience, 'clearing', this.#clear(jobId)).catch(() => {});
    return state;
  }

  /** What works on replaced content has been told to end; its job goes as soon as no worker holds any of it. */
  async #makeRoom(jobId: string): Promise<void> {
    const end = Date.now() + SETTLE_MS;
    for (;;) {
      await this.#clear(jobId);
      const left = await Promise.all(
        URGENCIES.map((urgency) => this.#session.queue(batchQueue(urgency)).getJob(jobId)),
      );
      // What is left then keeps the new job out; the same batch submitted again tries again.
      if (left.every((job) => job === undefined) || Date.now() > end) return;
      await sleep(SETTLE_LOOK_MS);
    }
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
    return this.#session.ask('asking for the state of the service', async () => ({
      ...(await serviceStatus(redis, keys, queues)),
      toSaw: await toSawOf(redis, keys),
    }));
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

function cutWith(id: string, night: string): PairstopError {
  return new PairstopError(
    'PS_CONFLICT',
    `batch ${JSON.stringify(id)} is cut with ${JSON.stringify(night)}, whose sticks hold its rails: say what was cut of that`,
  );
}

function inNight(id: string, night: string): PairstopError {
  return new PairstopError(
    'PS_CONFLICT',
    `batch ${JSON.stringify(id)} is planned with ${JSON.stringify(night)}, for which the pool has closed; cancel that, with all its batches, or wait for its plan`,
  );
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
