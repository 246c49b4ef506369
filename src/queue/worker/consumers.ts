/** The queues a worker takes jobs from, each with what it does about them. */
import type { Job, QueueOptions } from 'bullmq';
import type { Urgency } from '../../terms.js';
import { batchQueue, NIGHT_QUEUE, partQueue, QUOTE_QUEUE, SMALL_PARTS, URGENCIES } from '../names.js';
import { processQuote } from '../night/quoting.js';
import { tendNight } from '../night/tend.js';
import { KEPT } from '../settings.js';
import { processBatch } from './jobs/batch-job.js';
import { processPart } from './jobs/part-job.js';
import { RawWorker } from './raw-worker.js';
import type { Service } from './service.js';
import { noteStalled } from './stalled.js';

/** After this many crashes of its worker a job is failed; what it had stored stays. */
const STALLED_MOST = 10;
/** Jobs BullMQ keeps of each kind; what they made lies in the store for as long as it is kept. */
const JOBS_KEPT = 10_000;
const FETCH_AGAIN_MS = 500;
const CONCURRENT_BATCHES = 8;
const SECOND = 1_000;

type ProcessJob = (job: Job, token: string | undefined) => Promise<unknown>;

export interface ConsumerOptions extends Pick<QueueOptions, 'connection' | 'telemetry'> {
  /** What BullMQ tells beside the jobs. */
  readonly trouble: (error: unknown) => void;
}

export class Consumers {
  /** Jobs since the worker started. */
  readonly counts = { done: 0, failed: 0 };
  readonly #options: ConsumerOptions;
  readonly #workers: RawWorker[] = [];

  constructor(options: ConsumerOptions) {
    this.#options = options;
  }

  /** Takes jobs from now on. `slots`: mouldings this worker solves at a time. */
  start(service: Service, slots: Readonly<Record<Urgency, number>>): void {
    for (const urgency of URGENCIES) if (slots[urgency] > 0) this.#solve(service, urgency, slots[urgency]);
    this.#take(service, NIGHT_QUEUE, 1, () => tendNight(service));
    this.#take(service, QUOTE_QUEUE, 1, (job) => processQuote(service, job));
  }

  /** Takes no more; what is in hand is waited for. */
  async close(): Promise<void> {
    await Promise.all(this.#workers.map((worker) => worker.close()));
  }

  #solve(service: Service, urgency: Urgency, slots: number): void {
    this.#take(service, batchQueue(urgency), CONCURRENT_BATCHES, (job, token) =>
      processBatch(service, urgency, job, token),
    );
    this.#take(service, partQueue(urgency), slots, (job, token) => processPart(service, urgency, job, token));
    if (urgency !== 'now') return;
    this.#take(service, SMALL_PARTS, slots + KEPT, (job, token) => processPart(service, 'now', job, token));
  }

  #take(service: Service, queue: string, concurrency: number, process: ProcessJob): void {
    const { trouble, ...given } = this.#options;
    const { timing, prefix, retention } = service.settings;
    const kept = { age: Math.round(retention / SECOND), count: JOBS_KEPT };
    const worker = new RawWorker(queue, process, {
      ...given,
      prefix,
      concurrency,
      lockDuration: timing.lock,
      stalledInterval: timing.stalledCheck,
      maxStalledCount: STALLED_MOST,
      runRetryDelay: FETCH_AGAIN_MS,
      removeOnComplete: kept,
      removeOnFail: kept,
    });
    worker.on('error', trouble);
    worker.on('completed', () => {
      this.counts.done += 1;
    });
    worker.on('failed', (job, error) => {
      this.counts.failed += 1;
      if (job !== undefined) void noteStalled(service, job, error);
    });
    this.#workers.push(worker);
  }
}
