/** A worker: takes batches and mouldings from the queues until it is told to stop. */
import { randomUUID } from 'node:crypto';
import { type Job, Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { RackStore } from '../../rack/store/rack-store.js';
import { type EntryFile, SOLVER_ENTRY } from '../../run/solver/entry.js';
import { SolverPool } from '../../run/solver/pool.js';
import type { Urgency } from '../../terms.js';
import { batchQueue, keysOf, partQueue, URGENCIES } from '../names.js';
import { ErrorList } from '../record/errors-list.js';
import { Heart } from '../record/health.js';
import { Store } from '../record/store.js';
import { connect, hangUp, openRedis, Troubles } from '../redis/connection.js';
import { requireDurable } from '../redis/durable.js';
import { isOutage } from '../redis/outage.js';
import { within } from '../redis/waiting.js';
import { poolSize, type WorkerSettings } from '../settings.js';
import { processBatch } from './batch-job.js';
import { JobsInHand } from './in-hand.js';
import { processPart } from './part-job.js';
import { RawWorker } from './raw-worker.js';
import type { Service } from './service.js';
import { noteStalled } from './stalled.js';

/** After this many crashes of its worker a job is failed; what it had stored stays. */
const STALLED_MOST = 10;
/** Jobs BullMQ keeps of each kind; what they made lies in the store for as long as it is kept. */
const JOBS_KEPT = 10_000;
const FETCH_AGAIN_MS = 500;
const CONCURRENT_BATCHES = 4;
const SECOND = 1_000;
/**
 * As for nice(1): solving lets Redis and whoever submits have the processor, and work for tonight lets work for now.
 * Measured, see DEVELOPERS.md.
 */
const NICE: Readonly<Record<Urgency, number>> = { now: 15, tonight: 19 };

export interface WorkerOptions {
  readonly log: Logger;
  /** What solver processes start from. */
  readonly entry?: EntryFile;
}

export interface RunningWorker {
  readonly id: string;
  /** Process ids of its solvers. */
  readonly solvers: () => readonly number[];
  /** Gives work back and ends, within `timing.stop`, also when Redis is away. */
  readonly stop: () => Promise<void>;
}

class WorkerService {
  readonly id = randomUUID();
  readonly #settings: WorkerSettings;
  readonly #log: Logger;
  readonly #asking: Redis;
  readonly #working: Redis;
  readonly #listening: Redis;
  readonly #heart: Heart;
  readonly #service: Service;
  readonly #workers: RawWorker[] = [];
  readonly #counts = { done: 0, failed: 0 };
  #stopped: Promise<void> | null = null;

  constructor(settings: WorkerSettings, { log, entry = SOLVER_ENTRY }: WorkerOptions) {
    this.#settings = settings;
    this.#log = log.child({ worker: this.id });
    const { redisUrl, prefix, nowSlots, tonightSlots, heapMb, rssMb, recycleAfter, timing } = settings;
    this.#asking = openRedis(redisUrl, 'asking');
    this.#working = openRedis(redisUrl, 'working');
    this.#listening = openRedis(redisUrl, 'asking');
    const troubles = new Troubles(this.#log, redisUrl);
    for (const redis of [this.#asking, this.#working]) redis.on('error', troubles.tell);
    const keys = keysOf(prefix);
    const running = new JobsInHand();
    const slots = { now: nowSlots, tonight: tonightSlots };
    this.#heart = new Heart(this.#asking, keys, {
      id: this.id,
      slots,
      every: timing.heartbeat,
      running: () => running.tickets.map(({ batch, moulding }) => ({ batch, moulding })),
      counts: () => this.#counts,
    });
    const pool = (urgency: Urgency): SolverPool =>
      new SolverPool({
        entry,
        size: poolSize(slots[urgency]),
        heapMb,
        rssMb,
        nice: NICE[urgency],
        recycleAfter,
      });
    const parts = (urgency: Urgency): Queue => {
      // The check prints its own warning of a Redis that evicts; here that is refused, or logged.
      const queue = new Queue(partQueue(urgency), {
        connection: this.#working,
        prefix,
        skipVersionCheck: true,
      });
      queue.on('error', (error) => this.#trouble(error));
      return queue;
    };
    this.#service = {
      settings,
      keys,
      store: new Store(this.#asking, keys, settings.retention),
      rack: new RackStore(this.#asking, keys.rack),
      log: this.#log,
      running,
      errors: new ErrorList(this.#asking, keys, this.id),
      pools: { now: pool('now'), tonight: pool('tonight') },
      parts: { now: parts('now'), tonight: parts('tonight') },
      slots: (urgency) => this.#heart.slots(urgency),
    };
  }

  get solvers(): readonly number[] {
    const { pools } = this.#service;
    return URGENCIES.flatMap((urgency) => pools[urgency].pids);
  }

  async start(): Promise<void> {
    const { redisUrl, startWait, allowVolatile, nowSlots, tonightSlots } = this.#settings;
    await connect(this.#asking, redisUrl, startWait, this.#log);
    await requireDurable(this.#asking, redisUrl, allowVolatile, this.#log);
    await connect(this.#working, redisUrl, startWait, this.#log);
    await connect(this.#listening, redisUrl, startWait, this.#log);
    this.#listening.on('message', (_channel, jobId) => this.#service.running.cancelled(jobId));
    await this.#listening.subscribe(this.#service.keys.cancelled);
    await this.#heart.start();
    const { pools } = this.#service;
    await Promise.all(URGENCIES.map((urgency) => pools[urgency].warm()));
    const slots = { now: nowSlots, tonight: tonightSlots };
    for (const urgency of URGENCIES) if (slots[urgency] > 0) this.#serve(urgency, slots[urgency]);
    this.#log.info({ slots, prefix: this.#settings.prefix }, 'worker ready');
  }

  #serve(urgency: Urgency, slots: number): void {
    const service = this.#service;
    this.#work(batchQueue(urgency), CONCURRENT_BATCHES, (job, token) =>
      processBatch(service, urgency, job, token),
    );
    this.#work(partQueue(urgency), slots, (job, token) => processPart(service, urgency, job, token));
  }

  #work(
    queue: string,
    concurrency: number,
    process: (job: Job, token: string | undefined) => Promise<unknown>,
  ): void {
    const { timing, prefix, retention } = this.#settings;
    const kept = { age: Math.round(retention / SECOND), count: JOBS_KEPT };
    const worker = new RawWorker(queue, process, {
      connection: this.#working,
      prefix,
      concurrency,
      lockDuration: timing.lock,
      stalledInterval: timing.stalledCheck,
      maxStalledCount: STALLED_MOST,
      runRetryDelay: FETCH_AGAIN_MS,
      removeOnComplete: kept,
      removeOnFail: kept,
    });
    worker.on('error', (error) => this.#trouble(error));
    worker.on('completed', () => {
      this.#counts.done += 1;
    });
    worker.on('failed', (job, error) => {
      this.#counts.failed += 1;
      if (job !== undefined) void noteStalled(this.#service, job, error);
    });
    this.#workers.push(worker);
  }

  /** What BullMQ tells beside the jobs: outages are told by their connections, lost locks by the job's own end. */
  #trouble(error: Error): void {
    if (!isOutage(error)) this.#log.warn({ reason: error.message.slice(0, 300) }, 'the queue reports');
  }

  stop(): Promise<void> {
    this.#stopped ??= this.#stop();
    return this.#stopped;
  }

  async #stop(): Promise<void> {
    const { timing } = this.#settings;
    this.#log.info({ inHand: this.#service.running.size }, 'stopping');
    const end = Date.now() + timing.stop;
    const left = (): number => Math.max(100, end - Date.now());
    // Closing comes first, so that nothing new is taken while what is in hand is given back.
    const closing = Promise.all(this.#workers.map((worker) => worker.close()));
    this.#service.running.stop();
    try {
      await within(left(), 'giving work back', closing);
      await within(left(), 'saying goodbye', this.#heart.stop());
    } catch {
      this.#log.warn('Redis is away: work in hand will be found by other workers when its lock runs out');
      void this.#heart.stop().catch(() => {});
    }
    const { pools } = this.#service;
    await Promise.all(URGENCIES.map((urgency) => pools[urgency].close()));
    for (const redis of [this.#listening, this.#asking, this.#working]) hangUp(redis);
    this.#log.info('stopped');
  }
}

/**
 * Starts a worker. Throws PS_REDIS when Redis does not answer in `startWait`, PS_REDIS_SETUP when it may forget
 * batches. The caller stops it.
 */
export async function startWorker(settings: WorkerSettings, options: WorkerOptions): Promise<RunningWorker> {
  const worker = new WorkerService(settings, options);
  try {
    await worker.start();
  } catch (error) {
    await worker.stop();
    throw error;
  }
  return { id: worker.id, solvers: () => worker.solvers, stop: () => worker.stop() };
}
