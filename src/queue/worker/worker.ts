/** A worker: takes batches and mouldings from the queues until it is told to stop. */
import { randomUUID } from 'node:crypto';
import { Queue, type Telemetry } from 'bullmq';
import type { Logger } from 'pino';
import { type EntryFile, SOLVER_ENTRY } from '../../processes/solver/entry.js';
import { mostRails } from '../../processes/solver/memory.js';
import { SolverPool } from '../../processes/solver/pool.js';
import { Turnstile } from '../../processes/solver/turnstile.js';
import { RackStore } from '../../rack/store/rack-store.js';
import type { Urgency } from '../../terms.js';
import { type ServiceStatus, serviceStatus } from '../client/status.js';
import { type HealthServer, type NotReady, serveHealth } from '../health/http.js';
import { WorkerMetrics } from '../health/metrics.js';
import {
  batchQueue,
  type Keys,
  keysOf,
  NIGHT_QUEUE,
  partQueue,
  QUEUE_EVENTS,
  SMALL_PARTS,
  URGENCIES,
} from '../names.js';
import { tendNight } from '../night/tend.js';
import { releaseExpired, SWEEP_BEATS } from '../rack/sweep.js';
import { ErrorList } from '../record/errors-list.js';
import { Heart } from '../record/health.js';
import { Store } from '../record/store.js';
import { redisName } from '../redis/address.js';
import { clockOffset } from '../redis/clock.js';
import { saidOf, told } from '../redis/outage.js';
import { persist, within } from '../redis/waiting.js';
import { KEPT, poolSize, type WorkerSettings } from '../settings.js';
import { Consumers } from './consumers.js';
import { JobsInHand } from './in-hand.js';
import { RedisLinks } from './redis-links.js';
import type { Service } from './service.js';

const SECOND = 1_000;
const METRICS_MS = 2_000;
/** Heartbeats Redis may miss before a worker says that it is not ready. */
const MISSED = 3;
/**
 * As for nice(1): solving lets Redis and whoever submits have the processor, and work for tonight lets work for now.
 * Measured, see DEVELOPERS.md.
 */
const NICE: Readonly<Record<Urgency, number>> = { now: 15, tonight: 19 };
/** Of the process for small orders: beside two long solves on two cores it has a core nearly to itself. */
const KEPT_NICE = 12;

export interface WorkerOptions {
  readonly log: Logger;
  /** Log lines that were dropped, for the heartbeat. */
  readonly stream?: { readonly dropped: number };
  /** Traces, where a collector is configured. */
  readonly telemetry?: Telemetry;
  /** What solver processes start from. */
  readonly entry?: EntryFile;
}

export interface RunningWorker {
  readonly id: string;
  /** Process ids of its solvers. */
  readonly solvers: () => readonly number[];
  /** Where metrics and health are served; null: nowhere. */
  readonly port: number | null;
  /** Gives work back and ends, within `timing.stop`, also when Redis is away. */
  readonly stop: () => Promise<void>;
}

class WorkerService {
  readonly id = randomUUID();
  readonly #settings: WorkerSettings;
  readonly #log: Logger;
  readonly #links: RedisLinks;
  readonly #heart: Heart;
  #sweeping: NodeJS.Timeout | null = null;
  readonly #running = new JobsInHand();
  readonly #pools: Readonly<Record<Urgency, SolverPool>>;
  readonly #keys: Keys;
  readonly #store: Store;
  readonly #consumers: Consumers;
  readonly #queues: Queue[] = [];
  readonly #metrics: WorkerMetrics;
  readonly #telemetry: Telemetry | undefined;
  #status: () => Promise<ServiceStatus | null> = async () => null;
  #http: HealthServer | null = null;
  #ready = false;
  #stopped: Promise<void> | null = null;

  constructor(settings: WorkerSettings, { log, stream, telemetry, entry = SOLVER_ENTRY }: WorkerOptions) {
    this.#settings = settings;
    this.#telemetry = telemetry;
    this.#log = log.child({ worker: this.id });
    const { prefix, nowSlots, tonightSlots, heapMb, rssMb, recycleAfter, timing, retention } = settings;
    this.#links = new RedisLinks(settings, this.#log);
    this.#keys = keysOf(prefix);
    this.#consumers = new Consumers({
      connection: this.#links.working,
      ...(telemetry === undefined ? {} : { telemetry }),
      trouble: (error) => this.#trouble(error),
    });
    this.#store = new Store(this.#links.asking, this.#keys, retention);
    const slots = { now: nowSlots, tonight: tonightSlots };
    this.#heart = new Heart(this.#links.asking, this.#keys, {
      id: this.id,
      slots,
      every: timing.heartbeat,
      rails: mostRails(rssMb),
      running: () => this.#running.tickets.map(({ batch, moulding }) => ({ batch, moulding })),
      counts: () => this.#consumers.counts,
      dropped: () => stream?.dropped ?? 0,
      well: () => this.#links.well(),
      trouble: (error) => this.#trouble(error),
    });
    const pool = (urgency: Urgency): SolverPool =>
      new SolverPool({
        entry,
        size: poolSize(urgency, slots[urgency]),
        kept: urgency === 'now' ? KEPT : 0,
        heapMb,
        rssMb,
        nice: NICE[urgency],
        keptNice: KEPT_NICE,
        recycleAfter,
      });
    this.#pools = { now: pool('now'), tonight: pool('tonight') };
    this.#metrics = new WorkerMetrics({
      pools: () => URGENCIES.map((urgency) => this.#pools[urgency].figures),
      redis: () => ({
        latency: this.#heart.latency,
        reconnects: this.#links.reconnects,
        outages: this.#links.outages.count,
        up: this.#links.outages.kind === null,
        weak: this.#links.weak.length > 0,
        clockOffset: clockOffset() / SECOND,
      }),
      dropped: () => stream?.dropped ?? 0,
      service: () => within(METRICS_MS, 'metrics', this.#status()).catch(() => null),
    });
  }

  get port(): number | null {
    return this.#http?.port ?? null;
  }

  get solvers(): readonly number[] {
    return URGENCIES.flatMap((urgency) => this.#pools[urgency].pids);
  }

  async start(): Promise<void> {
    const { nowSlots, tonightSlots, redis, http, startWait } = this.#settings;
    if (http !== null) {
      this.#http = await serveHealth(http, {
        ready: () => this.#notReady(),
        metrics: () => this.#metrics.text(),
      });
      this.#log.info({ host: http.host, port: this.#http.port }, 'metrics and health are served');
    }
    try {
      await this.#links.start(this.#keys.cancelled, (jobId) => void this.#saidToHaveEnded(jobId));
      // The first thing written: a Redis that answers may be full, or its disk.
      await persist(startWait, 'a worker cannot write its first heartbeat', () => this.#firstBeat());
      this.#links.well();
    } catch (error) {
      throw told(redisName(redis), 'starting', error);
    }
    await Promise.all(URGENCIES.map((urgency) => this.#pools[urgency].warm()));
    const slots = { now: nowSlots, tonight: tonightSlots };
    // Not before it is known that this is the right database: a queue writes as soon as it is made.
    const service = this.#service(slots);
    this.#consumers.start(service, slots);
    const sweep = (): void => {
      // What an outage leaves undone, the next one does.
      void releaseExpired(service.rack, this.#keys, this.#log).catch(() => {});
      void tendNight(service).catch((error: unknown) => this.#trouble(error));
    };
    this.#sweeping = setInterval(sweep, SWEEP_BEATS * this.#settings.timing.heartbeat);
    this.#sweeping.unref();
    this.#ready = true;
    this.#log.info({ slots, prefix: this.#settings.prefix }, 'worker ready');
  }

  async #firstBeat(): Promise<void> {
    try {
      await this.#heart.start();
    } catch (error) {
      this.#links.outages.note(error);
      throw error;
    }
  }

  /** Null: it takes work. */
  #notReady(): NotReady {
    if (this.#stopped !== null) return 'it is stopping';
    if (!this.#ready) return 'it is starting';
    const { kind } = this.#links.outages;
    if (kind !== null) return saidOf(kind);
    const { silent } = this.#heart;
    const most = (MISSED * this.#settings.timing.heartbeat) / SECOND;
    return silent > most ? `Redis has taken no heartbeat for ${Math.round(silent)} s` : null;
  }

  #service(slots: Readonly<Record<Urgency, number>>): Service {
    const { prefix } = this.#settings;
    const queueOf = (name: string): Queue => {
      const queue = new Queue(name, {
        connection: this.#links.working,
        prefix,
        // The check prints its own warning of a Redis that evicts; here that is refused, or logged.
        skipVersionCheck: true,
        ...QUEUE_EVENTS,
        ...(this.#telemetry === undefined ? {} : { telemetry: this.#telemetry }),
      });
      queue.on('error', (error) => this.#trouble(error));
      this.#queues.push(queue);
      return queue;
    };
    const parts = { now: queueOf(partQueue('now')), tonight: queueOf(partQueue('tonight')) };
    const batches = { now: queueOf(batchQueue('now')), tonight: queueOf(batchQueue('tonight')) };
    const small = queueOf(SMALL_PARTS);
    const all = Object.fromEntries(
      [...Object.values(parts), small, ...Object.values(batches)].map((queue) => [queue.name, queue]),
    );
    this.#status = () => serviceStatus(this.#links.asking, this.#keys, all);
    return {
      settings: this.#settings,
      keys: this.#keys,
      store: this.#store,
      rack: new RackStore(this.#links.asking, this.#keys.rack),
      log: this.#log,
      running: this.#running,
      errors: new ErrorList(this.#links.asking, this.#keys, this.id),
      pools: this.#pools,
      metrics: this.#metrics,
      parts,
      small,
      turnstiles: {
        now: new Turnstile({ all: slots.now + KEPT, large: slots.now }),
        tonight: new Turnstile({ all: slots.tonight, large: slots.tonight }),
      },
      passing: () => this.#heart.passing,
      batches,
      night: queueOf(NIGHT_QUEUE),
      slots: (urgency) => this.#heart.slots(urgency),
    };
  }

  /** Anyone may say so on the channel, which all databases of a Redis share: only the record decides. */
  async #saidToHaveEnded(jobId: string): Promise<void> {
    if (!this.#running.holds(jobId)) return;
    try {
      const [state] = await this.#store.read(jobId, ['state']);
      const text = state?.toString();
      if (text === 'done' || text === 'failed' || text === 'cancelled') this.#running.ended(jobId);
    } catch (error) {
      // The next beat of what is in hand asks again.
      this.#trouble(error);
    }
  }

  /** What BullMQ tells beside the jobs. */
  #trouble(error: unknown): void {
    if (this.#links.outages.note(error) || !(error instanceof Error)) return;
    this.#log.warn({ reason: error.message.slice(0, 300) }, 'the queue reports');
  }

  stop(): Promise<void> {
    this.#stopped ??= this.#stop();
    return this.#stopped;
  }

  async #stop(): Promise<void> {
    if (this.#sweeping !== null) clearInterval(this.#sweeping);
    const { timing } = this.#settings;
    this.#log.info({ inHand: this.#running.size }, 'stopping');
    const end = Date.now() + timing.stop;
    const left = (): number => Math.max(100, end - Date.now());
    // Closing comes first, so that nothing new is taken while what is in hand is given back.
    const closing = this.#consumers.close();
    this.#running.stop();
    try {
      await within(left(), 'giving work back', closing);
      await within(left(), 'saying goodbye', this.#heart.stop());
    } catch {
      this.#log.warn('Redis is away: work in hand will be found by other workers when its lock runs out');
      void this.#heart.stop().catch(() => {});
    }
    await Promise.all(URGENCIES.map((urgency) => this.#pools[urgency].close()));
    await this.#http?.close();
    this.#links.close();
    this.#log.info('stopped');
  }
}

/**
 * Starts a worker. Throws PS_REDIS when Redis does not answer, or takes nothing, in `startWait`, PS_REDIS_SETUP when it may forget
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
  return { id: worker.id, port: worker.port, solvers: () => worker.solvers, stop: () => worker.stop() };
}
