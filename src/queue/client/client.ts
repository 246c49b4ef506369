/** The service from outside: submit a batch, watch it, fetch its plan. Nothing here waits without a bound. */
import type { Readable } from 'node:stream';
import { checkBatch } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan } from '../../documents/plan/types.js';
import type { Quote } from '../../documents/quote/schema.js';
import { PairstopError } from '../../errors.js';
import { comparisonOf, documentOf, planOf } from '../../processes/documents.js';
import { batchQueue, URGENCIES } from '../names.js';
import { askQuote, type QuoteOptions } from '../night/ask-quote.js';
import { QueueNightDesk } from '../night/desk.js';
import type { NightDesk } from '../night/desk-api.js';
import { QueueRackDesk } from '../rack/desk.js';
import type { RackDesk } from '../rack/desk-api.js';
import type { BatchState } from '../record/steps.js';
import { within } from '../redis/waiting.js';
import type {
  CancelChoice,
  Client,
  ResultOptions,
  RevisionChoice,
  Submission,
  SubmitOptions,
  WorkChoice,
} from './client-api.js';
import { type BatchPage, listBatches, type PageOptions } from './list.js';
import { type ClientOptions, readOptions, requireWait } from './options.js';
import { cutWith, inNight, unknown } from './refused.js';
import { Session } from './session.js';
import { type BatchStatus, batchStatus, type ServiceStatus, serviceStatus } from './status.js';
import { jobOf, StoredDocuments } from './stored.js';
import { clearJobs, planOthers } from './submit/clearing.js';
import { type Given, readGiven, submitTo } from './submit/submit.js';
import { toSawOf } from './to-saw.js';
import { type WatchOptions, watchBatch } from './watch.js';

export type {
  CancelChoice,
  Client,
  ClientOptions,
  ResultOptions,
  RevisionChoice,
  Submission,
  SubmitOptions,
  WorkChoice,
};

class QueueClient implements Client {
  readonly #session: Session;
  readonly #stored: StoredDocuments;
  readonly #retention: number;
  readonly rack: RackDesk;
  readonly night: NightDesk;

  constructor(options: ClientOptions) {
    const read = readOptions(options);
    this.#session = new Session(read);
    this.#stored = new StoredDocuments(this.#session);
    this.#retention = read.retention;
    this.night = new QueueNightDesk(this.#session);
    this.rack = new QueueRackDesk(this.#session, async (id) => {
      const plan = await this.result(id);
      if (plan.batch !== id) throw cutWith(id, plan.batch);
      return { plan, batch: checkBatch(await this.batch(id)) };
    });
  }

  submit(given: Given, options: SubmitOptions = {}): Promise<Submission> {
    return submitTo(this.#session, this.#retention, given, options);
  }

  async quote(order: Given, options: QuoteOptions = {}): Promise<Quote> {
    return askQuote(this.#session, readGiven(order).document, options);
  }

  async status(id: string, choice: RevisionChoice = {}): Promise<BatchStatus> {
    const jobId = await this.#stored.recordOf(id, choice);
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

  watch(
    id: string,
    { work = 'plan', ...options }: WatchOptions & WorkChoice = {},
  ): AsyncGenerator<BatchStatus, void, undefined> {
    const channel = this.#session.keys.events(jobOf(id, work));
    if (options.timeout !== undefined) requireWait('timeout', options.timeout);
    const inquiry = this.#stored.inquiry(id, work, () => this.status(id, { work }));
    return watchBatch(inquiry, this.#session.listener, channel, options);
  }

  async result(id: string, options: ResultOptions = {}): Promise<Plan> {
    const { fingerprint, sealed } = await this.#stored.result('plan', id, options);
    const plan = planOf(fingerprint, sealed);
    // A batch of a night has the plan of its night.
    const own = plan.batch === id || plan.batches?.some(({ batch }) => batch === id) === true;
    if (!own) throw new PairstopError('PS_STORE', 'the stored plan is that of another batch');
    return plan;
  }

  async comparison(id: string, options: ResultOptions = {}): Promise<Comparison> {
    const { fingerprint, sealed } = await this.#stored.result('compare', id, options);
    const comparison = comparisonOf(fingerprint, sealed);
    if (comparison.batch !== id) {
      throw new PairstopError('PS_STORE', 'the stored comparison is that of another batch');
    }
    return comparison;
  }

  async batch(id: string, asked: RevisionChoice = {}): Promise<BatchDocument> {
    const { fingerprint, sealed } = await this.#stored.batch(id, asked);
    return documentOf(fingerprint, sealed);
  }

  text(of: 'result' | 'batch', id: string, options: ResultOptions & WorkChoice = {}): Promise<Readable> {
    return this.#stored.text(of, id, options);
  }

  async cancel(id: string, { work = 'plan', replan = false }: CancelChoice = {}): Promise<BatchState> {
    const jobId = jobOf(id, work);
    const cancelled = await this.#session.ask('cancelling', () =>
      this.#session.store.cancel(jobId, this.#session.who, replan),
    );
    if (cancelled.kind === 'unknown') throw unknown(id);
    if (cancelled.kind === 'night' || cancelled.kind === 'begun') {
      throw inNight(id, cancelled.night, cancelled.kind === 'begun');
    }
    if (cancelled.kind === 'left') {
      // Should this not come to its end, a worker's sweep plans the others.
      await within(this.#session.patience, 'planning the others', planOthers(this.#session, cancelled)).catch(
        () => {},
      );
      return 'cancelled';
    }
    const { state } = cancelled;
    // Cancelled it is already; what is left to clear away, a worker would.
    if (state === 'cancelled')
      await within(this.#session.patience, 'clearing', clearJobs(this.#session, jobId)).catch(() => {});
    return state;
  }

  service(): Promise<ServiceStatus> {
    const { redis, keys } = this.#session;
    return this.#session.ask('asking for the state of the service', async () => ({
      ...(await serviceStatus(redis, keys, this.#session.queues)),
      toSaw: await toSawOf(redis, keys),
    }));
  }

  waiting(): Promise<number> {
    return this.#session.ask('counting what waits', async () => {
      const counts = await Promise.all(
        URGENCIES.map((urgency) =>
          this.#session.queue(batchQueue(urgency)).getJobCountByTypes('wait', 'prioritized'),
        ),
      );
      return counts.reduce((sum, count) => sum + count, 0);
    });
  }

  close(): Promise<void> {
    return this.#session.close();
  }
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
