/** Heartbeats of workers, and the state of the service they make. */
import { hostname } from 'node:os';
import type { Redis } from 'ioredis';
import { z } from 'zod';
import type { Urgency } from '../../terms.js';
import type { Keys } from '../names.js';

const SECOND = 1_000;
/** A worker not heard of for so many heartbeats is taken for dead. */
const MISSED = 3;
const FORGET_MS = 600 * SECOND;

const countSchema = z.int().min(0);
const heartbeatSchema = z.strictObject({
  id: z.string(),
  host: z.string(),
  pid: countSchema,
  /** Milliseconds since 1970, by Redis's clock. */
  at: z.number(),
  started: z.number(),
  /** Milliseconds between heartbeats. */
  every: z.number().min(1),
  slots: z.strictObject({ now: countSchema, tonight: countSchema }),
  running: z.array(z.strictObject({ batch: z.string(), moulding: z.string().nullable() })),
  /** Jobs since it started. */
  done: countSchema,
  failed: countSchema,
  /** Bytes, of its own process. */
  memory: countSchema,
});
export type Heartbeat = z.output<typeof heartbeatSchema>;

/** Milliseconds since 1970, so that nobody has to trust the clocks of many machines. */
export async function redisNow(redis: Redis): Promise<number> {
  const [seconds, micros] = await redis.time();
  return Number(seconds) * SECOND + Math.floor(Number(micros) / SECOND);
}

/** The workers heard of lately. */
export async function livingWorkers(redis: Redis, keys: Keys): Promise<Heartbeat[]> {
  const now = await redisNow(redis);
  const texts = await redis.hvals(keys.workers);
  return texts
    .flatMap((text) => {
      try {
        const { data } = heartbeatSchema.safeParse(JSON.parse(text));
        return data === undefined ? [] : [data];
      } catch {
        return [];
      }
    })
    .filter(({ at, every }) => now - at <= MISSED * every);
}

/** Whether a worker on this machine has been heard of lately. */
export function aliveHere(workers: readonly Heartbeat[]): boolean {
  return workers.some(({ host }) => host === hostname());
}

export interface Pulse {
  readonly id: string;
  readonly slots: Readonly<Record<Urgency, number>>;
  readonly every: number;
  readonly running: () => Heartbeat['running'];
  readonly counts: () => { readonly done: number; readonly failed: number };
}

/** Writes this worker's heartbeat and knows the slots of all. */
export class Heart {
  readonly #redis: Redis;
  readonly #keys: Keys;
  readonly #pulse: Pulse;
  readonly #started = Date.now();
  #slots: Readonly<Record<Urgency, number>>;
  #timer: NodeJS.Timeout | null = null;

  constructor(redis: Redis, keys: Keys, pulse: Pulse) {
    this.#redis = redis;
    this.#keys = keys;
    this.#pulse = pulse;
    this.#slots = pulse.slots;
  }

  slots(urgency: Urgency): number {
    return Math.max(1, this.#slots[urgency]);
  }

  async start(): Promise<void> {
    await this.beat();
    this.#timer = setInterval(() => void this.beat().catch(() => {}), this.#pulse.every);
  }

  async beat(): Promise<void> {
    const { id, slots, every, running, counts } = this.#pulse;
    const beat: Heartbeat = {
      id,
      host: hostname(),
      pid: process.pid,
      at: await redisNow(this.#redis),
      started: this.#started,
      every,
      slots,
      running: running(),
      ...counts(),
      memory: process.memoryUsage.rss(),
    };
    await this.#redis.hset(this.#keys.workers, id, JSON.stringify(beat));
    await this.#redis.pexpire(this.#keys.workers, FORGET_MS);
    const living = await livingWorkers(this.#redis, this.#keys);
    const sum = (urgency: Urgency): number => living.reduce((total, one) => total + one.slots[urgency], 0);
    this.#slots = { now: sum('now'), tonight: sum('tonight') };
    await this.#forget(living);
  }

  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    await this.#redis.hdel(this.#keys.workers, this.#pulse.id);
  }

  /** Workers that ended without a word. */
  async #forget(living: readonly Heartbeat[]): Promise<void> {
    const known = await this.#redis.hkeys(this.#keys.workers);
    const ids = new Set(living.map(({ id }) => id));
    const dead = known.filter((id) => !ids.has(id));
    if (dead.length > 0) await this.#redis.hdel(this.#keys.workers, ...dead);
  }
}
