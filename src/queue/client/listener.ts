/** One connection that hears what is told of any number of batches. */
import type { Redis } from 'ioredis';
import type { RedisAddress } from '../redis/address.js';
import { hangUp, keepHearing, openRedis } from '../redis/connection.js';

type Hear = (what: string) => void;

/** What is told of a batch that has come to its end. */
export const LAST_WORDS: readonly string[] = ['done', 'failed', 'cancelled'];

export class Listener {
  readonly #address: string | RedisAddress;
  readonly #hearing = new Map<string, Set<Hear>>();
  #redis: Redis | null = null;
  #still: () => void = () => {};

  constructor(address: string | RedisAddress) {
    this.#address = address;
  }

  /** Calls `hear` for each message until the returned function is called. What is told while Redis is away is lost. */
  listen(channel: string, hear: Hear): () => void {
    const redis = this.#open();
    const known = this.#hearing.get(channel);
    const all = known ?? new Set<Hear>();
    all.add(hear);
    this.#hearing.set(channel, all);
    if (known === undefined && redis.status === 'ready') void redis.subscribe(channel).catch(() => {});
    return () => {
      all.delete(hear);
      if (all.size > 0 || this.#hearing.get(channel) !== all) return;
      this.#hearing.delete(channel);
      if (redis.status === 'ready') void redis.unsubscribe(channel).catch(() => {});
    };
  }

  close(): void {
    this.#still();
    if (this.#redis !== null) hangUp(this.#redis);
    this.#redis = null;
    this.#hearing.clear();
  }

  #open(): Redis {
    if (this.#redis !== null) return this.#redis;
    const redis = openRedis(this.#address, 'asking');
    this.#redis = redis;
    this.#still = keepHearing(redis);
    redis.on('message', (channel: string, what: string) => {
      for (const hear of this.#hearing.get(channel) ?? []) hear(what);
    });
    redis.on('ready', () => {
      const channels = [...this.#hearing.keys()];
      if (channels.length > 0) void redis.subscribe(...channels).catch(() => {});
    });
    redis.connect().catch(() => {});
    return redis;
  }
}
