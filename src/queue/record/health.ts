/** Heartbeats of workers, and the state of the service they make. */
import { hostname } from 'node:os';
import type { Redis } from 'ioredis';
import * as z from 'zod';
import type { Urgency } from '../../terms.js';
import { VERSION } from '../../version.js';
import type { Keys } from '../names.js';
import { followRedisClock, redisNow } from '../redis/clock.js';

const SECOND = 1_000;
/** A worker not heard of for so many heartbeats is taken for dead. */
const MISSED = 3;
/** For so long it is still told that it is. */
const FORGET_MS = 600 * SECOND;

const countSchema = z.int().min(0);
/** Version 0.1.0 wrote these, and takes no others; further fields are a later version's. */
const firstSchema = z.object({
  id: z.string(),
  host: z.string(),
  pid: countSchema,
  /** Milliseconds since 1970, by Redis's clock. */
  at: z.number(),
  started: z.number(),
  /** Milliseconds between heartbeats. */
  every: z.number().min(1),
  slots: z.object({ now: countSchema, tonight: countSchema }),
  running: z.array(z.object({ batch: z.string(), moulding: z.string().nullable() })),
  /** Jobs since it started. */
  done: countSchema,
  failed: countSchema,
  /** Bytes, of its own process. */
  memory: countSchema,
});
const heartbeatSchema = firstSchema.extend({
  /** Of the program. */
  version: z.string().default('0.1.0'),
  /** Log lines that could not be written. */
  dropped: countSchema.default(0),
  /** Most rails of a batch whose plan its solvers have the memory to put together; null: not said. */
  rails: countSchema.nullable().default(null),
  /** Takes mouldings of small batches from a queue of their own. */
  passing: z.boolean().default(false),
});
export type Heartbeat = z.output<typeof heartbeatSchema>;
type FirstHeartbeat = z.output<typeof firstSchema>;

function parsed(texts: readonly string[]): Heartbeat[] {
  return texts.flatMap((text) => {
    try {
      const { data } = heartbeatSchema.safeParse(JSON.parse(text));
      return data === undefined ? [] : [data];
    } catch {
      return [];
    }
  });
}

export interface KnownWorkers {
  readonly living: readonly Heartbeat[];
  /** Not heard of lately, and did not say goodbye. */
  readonly lost: readonly Heartbeat[];
}

/** Workers heard of within the last ten minutes, of this version or others. */
export async function knownWorkers(redis: Redis, keys: Keys): Promise<KnownWorkers> {
  const now = await redisNow(redis);
  const full = parsed(await redis.hvals(keys.heartbeats));
  const ids = new Set(full.map(({ id }) => id));
  const first = parsed(await redis.hvals(keys.workers)).filter(({ id }) => !ids.has(id));
  const all = [...full, ...first].filter(({ at }) => now - at <= FORGET_MS);
  const lives = ({ at, every }: Heartbeat): boolean => now - at <= MISSED * every;
  return { living: all.filter(lives), lost: all.filter((one) => !lives(one)) };
}

function exists(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error instanceof Error && Reflect.get(error, 'code') === 'EPERM';
  }
}

/** Whether a worker of this machine has been heard of lately and is still there, and none of it stands still. */
export function aliveHere({ living, lost }: KnownWorkers): boolean {
  const isHere = ({ host, pid }: Heartbeat): boolean => host === hostname() && exists(pid);
  return living.some(isHere) && !lost.some(isHere);
}

/** What a heartbeat is made of. */
export interface HeartbeatSource {
  readonly id: string;
  readonly slots: Readonly<Record<Urgency, number>>;
  readonly every: number;
  readonly rails: number;
  readonly running: () => Heartbeat['running'];
  readonly counts: () => { readonly done: number; readonly failed: number };
  readonly dropped: () => number;
  /** Told of each heartbeat that Redis took, and of each it did not. */
  readonly well: () => void;
  readonly trouble: (error: unknown) => void;
}

/** Writes this worker's heartbeat, keeps its clock, and knows the slots of all. */
export class Heart {
  readonly #redis: Redis;
  readonly #keys: Keys;
  readonly #source: HeartbeatSource;
  readonly #started = Date.now();
  #slots: Readonly<Record<Urgency, number>>;
  #passing = false;
  #timer: NodeJS.Timeout | null = null;
  #beating = false;
  #latency = 0;
  #last = Number.NEGATIVE_INFINITY;

  constructor(redis: Redis, keys: Keys, source: HeartbeatSource) {
    this.#redis = redis;
    this.#keys = keys;
    this.#source = source;
    this.#slots = source.slots;
  }

  slots(urgency: Urgency): number {
    return Math.max(1, this.#slots[urgency]);
  }

  /** Whether all workers that serve what is wanted now take small batches from their own queue. */
  get passing(): boolean {
    return this.#passing;
  }

  /** Seconds to Redis and back, at the last heartbeat. */
  get latency(): number {
    return this.#latency;
  }

  /** Seconds since the last heartbeat that Redis took. */
  get silent(): number {
    return (performance.now() - this.#last) / SECOND;
  }

  async start(): Promise<void> {
    await this.#beat();
    this.#timer = setInterval(() => void this.#beatOn(), this.#source.every);
  }

  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    await this.#redis.hdel(this.#keys.heartbeats, this.#source.id);
    await this.#redis.hdel(this.#keys.workers, this.#source.id);
  }

  async #beatOn(): Promise<void> {
    if (this.#beating) return;
    this.#beating = true;
    try {
      await this.#beat();
      this.#source.well();
    } catch (error) {
      this.#source.trouble(error);
    } finally {
      this.#beating = false;
    }
  }

  async #beat(): Promise<void> {
    const { id, slots, every, running, counts, dropped, rails } = this.#source;
    const { now: at, way } = await followRedisClock(this.#redis);
    this.#latency = way / SECOND;
    const first: FirstHeartbeat = {
      id,
      host: hostname(),
      pid: process.pid,
      at,
      started: this.#started,
      every,
      slots,
      running: running(),
      ...counts(),
      memory: process.memoryUsage.rss(),
    };
    const beat: Heartbeat = { ...first, version: VERSION, dropped: dropped(), rails, passing: slots.now > 0 };
    await this.#redis.hset(this.#keys.heartbeats, id, JSON.stringify(beat));
    await this.#redis.pexpire(this.#keys.heartbeats, FORGET_MS);
    // Workers of version 0.1.0 would delete a heartbeat with a field they do not know.
    await this.#redis.hset(this.#keys.workers, id, JSON.stringify(first));
    await this.#redis.pexpire(this.#keys.workers, FORGET_MS);
    this.#last = performance.now();
    const { living } = await knownWorkers(this.#redis, this.#keys);
    const sum = (urgency: Urgency): number => living.reduce((total, one) => total + one.slots[urgency], 0);
    this.#slots = { now: sum('now'), tonight: sum('tonight') };
    const urgent = living.filter((one) => one.slots.now > 0);
    this.#passing = urgent.length > 0 && urgent.every(({ passing }) => passing);
    await this.#forget(at);
  }

  /** Workers that ended without a word, once it has been told for long enough. */
  async #forget(now: number): Promise<void> {
    for (const key of [this.#keys.heartbeats, this.#keys.workers]) {
      const old = parsed(await this.#redis.hvals(key)).filter(({ at }) => now - at > FORGET_MS);
      if (old.length > 0) await this.#redis.hdel(key, ...old.map(({ id }) => id));
    }
  }
}
