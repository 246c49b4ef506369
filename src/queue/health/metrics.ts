/** What a worker counts and measures, as Prometheus reads it. README says which of it to alarm on. */
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import type { PoolFigures } from '../../processes/solver/pool.js';
import type { Urgency } from '../../terms.js';
import { VERSION } from '../../version.js';
import type { ServiceStatus } from '../client/status.js';

const SECONDS = [0.01, 0.05, 0.1, 0.5, 1, 5, 10, 30, 60, 300, 1_800, 7_200, 43_200];
const GAPS = [0, 0.0001, 0.001, 0.005, 0.01, 0.02, 0.05, 0.1];
const PREFIX = 'pairstop_';

/** Looked up when Prometheus asks. */
export interface MetricSources {
  readonly pools: () => readonly PoolFigures[];
  readonly redis: () => {
    /** Seconds of the last heartbeat's way to Redis and back. */
    readonly latency: number;
    readonly reconnects: number;
    readonly outages: number;
    readonly up: boolean;
    /** Its settings may lose batches. */
    readonly weak: boolean;
    readonly clockOffset: number;
  };
  readonly dropped: () => number;
  /** Null while Redis does not answer. */
  readonly service: () => Promise<ServiceStatus | null>;
}

const BATCH_OUTCOMES = ['complete', 'short', 'failed', 'cancelled'] as const;
const MOULDING_OUTCOMES = ['optimal', 'within', 'unproven', 'failed', 'cancelled'] as const;

export class WorkerMetrics {
  readonly #registry = new Registry();
  readonly #batches: Counter<'outcome'>;
  readonly #mouldings: Counter<'outcome'>;
  readonly #waiting: Histogram<'urgency'>;
  readonly #solving: Histogram<'urgency'>;
  readonly #assembling: Histogram<'urgency'>;
  readonly #gaps: Histogram<'urgency'>;
  #collect: () => Promise<void> = async () => {};

  constructor(sources: MetricSources) {
    const registers = [this.#registry];
    const counter = (name: string, help: string) =>
      new Counter({ name: `${PREFIX}${name}`, help, labelNames: ['outcome'] as const, registers });
    const histogram = (name: string, help: string, buckets: number[]) =>
      new Histogram({ name: `${PREFIX}${name}`, help, buckets, labelNames: ['urgency'] as const, registers });
    this.#batches = counter('batches_total', 'Batches ended here: complete, short, failed or cancelled.');
    this.#mouldings = counter(
      'mouldings_total',
      'Mouldings ended here: optimal, within, unproven, failed or cancelled.',
    );
    // From the start, so that the first failure is seen as a rise and not as a new line.
    for (const outcome of BATCH_OUTCOMES) this.#batches.inc({ outcome }, 0);
    for (const outcome of MOULDING_OUTCOMES) this.#mouldings.inc({ outcome }, 0);
    this.#waiting = histogram('wait_seconds', 'From a moulding being due to its first attempt.', SECONDS);
    this.#solving = histogram('solve_seconds', 'Solving of a moulding, all attempts here.', SECONDS);
    this.#assembling = histogram('assemble_seconds', 'Putting a plan together and checking it.', SECONDS);
    this.#gaps = histogram('gap_ratio', 'Gap between plan and proven bound of a finished moulding.', GAPS);
    this.#gauges(sources);
    collectDefaultMetrics({ register: this.#registry, prefix: PREFIX });
  }

  batchEnded(outcome: (typeof BATCH_OUTCOMES)[number]): void {
    this.#batches.inc({ outcome });
  }

  mouldingEnded(outcome: (typeof MOULDING_OUTCOMES)[number]): void {
    this.#mouldings.inc({ outcome });
  }

  /** Seconds. */
  waited(urgency: Urgency, seconds: number): void {
    this.#waiting.observe({ urgency }, Math.max(0, seconds));
  }

  solved(urgency: Urgency, seconds: number, gap: number): void {
    this.#solving.observe({ urgency }, seconds);
    this.#gaps.observe({ urgency }, gap);
  }

  assembled(urgency: Urgency, seconds: number): void {
    this.#assembling.observe({ urgency }, seconds);
  }

  async text(): Promise<{ readonly type: string; readonly text: string }> {
    await this.#collect();
    return { type: this.#registry.contentType, text: await this.#registry.metrics() };
  }

  #gauge(name: string, help: string, collect: () => number): void {
    new Gauge({
      name: `${PREFIX}${name}`,
      help,
      registers: [this.#registry],
      collect() {
        this.set(collect());
      },
    });
  }

  #gauges({ pools, redis, dropped, service }: MetricSources): void {
    const sum = (of: (figures: PoolFigures) => number): number =>
      pools().reduce((total, figures) => total + of(figures), 0);
    this.#gauge('solver_starts_total', 'Solver processes started.', () => sum(({ starts }) => starts));
    this.#gauge('solver_kills_total', 'Solver processes ended at the time limit or by a cancellation.', () =>
      sum(({ kills }) => kills),
    );
    this.#gauge('solver_deaths_total', 'Solver processes that died by themselves.', () =>
      sum(({ deaths }) => deaths),
    );
    this.#gauge('solver_memory_bytes', 'Memory of all solver processes, as of their last answers.', () =>
      sum(({ memory }) => memory),
    );
    this.#gauge('solver_busy', 'Solver processes with a task.', () => sum(({ busy }) => busy));
    this.#gauge('redis_up', '1 while Redis serves, 0 during an outage.', () => Number(redis().up));
    this.#gauge('redis_latency_seconds', 'To Redis and back, at the last heartbeat.', () => redis().latency);
    this.#gauge('redis_reconnects_total', 'Connections to Redis opened anew.', () => redis().reconnects);
    this.#gauge('redis_outages_total', 'Outages of Redis.', () => redis().outages);
    this.#gauge('redis_unsafe', '1 while the settings of Redis may lose batches.', () =>
      Number(redis().weak),
    );
    this.#gauge(
      'clock_offset_seconds',
      "How far this machine's clock is behind Redis's.",
      () => redis().clockOffset,
    );
    this.#gauge('log_lines_dropped_total', 'Log lines that could not be written.', dropped);
    new Gauge({
      name: `${PREFIX}info`,
      help: 'Always 1; the version is its label.',
      labelNames: ['version'] as const,
      registers: [this.#registry],
    }).set({ version: VERSION }, 1);
    const jobs = new Gauge({
      name: `${PREFIX}queue_jobs`,
      help: 'Jobs of all workers by queue and state.',
      labelNames: ['urgency', 'kind', 'state'] as const,
      registers: [this.#registry],
    });
    const oldest = new Gauge({
      name: `${PREFIX}queue_oldest_seconds`,
      help: 'How long the oldest job has been waiting; 0: none waits.',
      labelNames: ['urgency', 'kind'] as const,
      registers: [this.#registry],
    });
    const workers = new Gauge({
      name: `${PREFIX}workers`,
      help: 'Workers of this shop, living and lost.',
      labelNames: ['state'] as const,
      registers: [this.#registry],
    });
    this.#collect = async () => {
      const status = await service();
      if (status === null) return;
      workers.set({ state: 'living' }, status.workers.length);
      workers.set({ state: 'lost' }, status.lost.length);
      for (const urgency of ['now', 'tonight'] as const) {
        for (const kind of ['batches', 'mouldings'] as const) {
          const { oldest: since, ...depths } = status.queues[urgency][kind];
          oldest.set({ urgency, kind }, since ?? 0);
          for (const [state, count] of Object.entries(depths)) jobs.set({ urgency, kind, state }, count);
        }
      }
    };
  }
}
