/** What the door tells Prometheus: requests by route and status, open streams, bodies in memory, webhooks. */
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';

const SECONDS = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1, 5, 30, 60];

/** What is asked when the metrics are. */
export interface DoorMeters {
  /** Batches that are listened to, and who listens. */
  readonly watched: () => number;
  readonly listeners: () => number;
  /** Bytes of bodies being read. */
  readonly bodies: () => number;
  /** Pages, large documents and recuts that wait for a thread. */
  readonly waiting: () => number;
  /** Whether Redis answers. */
  readonly alive: () => Promise<boolean>;
}

export class DoorMetrics {
  readonly registry = new Registry();
  readonly #requests = new Histogram({
    name: 'pairstop_door_request_seconds',
    help: 'Seconds a request took, by route, method and status',
    labelNames: ['method', 'route', 'status'],
    buckets: SECONDS,
    registers: [this.registry],
  });
  readonly #webhooks = new Counter({
    name: 'pairstop_door_webhook_attempts_total',
    help: 'Attempts to tell a webhook, by what came of them',
    labelNames: ['outcome'],
    registers: [this.registry],
  });

  readonly #refused = new Counter({
    name: 'pairstop_door_refused_total',
    help: 'Requests answered with a problem, by its code',
    labelNames: ['code'],
    registers: [this.registry],
  });

  constructor({ watched, bodies, listeners, waiting, alive }: DoorMeters) {
    collectDefaultMetrics({ register: this.registry, prefix: 'pairstop_door_' });
    new Gauge({
      name: 'pairstop_door_watched_batches',
      help: 'Batches that are listened to at this moment',
      registers: [this.registry],
      collect() {
        this.set(watched());
      },
    });
    new Gauge({
      name: 'pairstop_door_event_streams',
      help: 'Event streams and calls that wait for the end of a batch',
      registers: [this.registry],
      collect() {
        this.set(listeners());
      },
    });
    new Gauge({
      name: 'pairstop_door_thread_waiting',
      help: 'Pages, large documents and recuts that wait for a thread',
      registers: [this.registry],
      collect() {
        this.set(waiting());
      },
    });
    new Gauge({
      name: 'pairstop_door_redis_up',
      help: '1 while Redis answers',
      registers: [this.registry],
      async collect() {
        this.set((await alive()) ? 1 : 0);
      },
    });
    new Gauge({
      name: 'pairstop_door_body_bytes',
      help: 'Bytes of bodies being read',
      registers: [this.registry],
      collect() {
        this.set(bodies());
      },
    });
  }

  answered(method: string, route: string | undefined, status: number, seconds: number): void {
    this.#requests.observe({ method, route: route ?? 'none', status }, seconds);
  }

  refused(code: string): void {
    this.#refused.inc({ code });
  }

  readonly told = (good: boolean): void => {
    this.#webhooks.inc({ outcome: good ? 'delivered' : 'not delivered' });
  };
}
