/** The last errors of all workers, for `pairstop status`. */
import type { Redis } from 'ioredis';
import * as z from 'zod';
import type { Keys } from '../names.js';

const KEPT = 20;
const MESSAGE_KEPT = 300;

/** Further fields are a newer version's. */
const entrySchema = z.object({
  /** Milliseconds since 1970, by the worker's clock. */
  at: z.number(),
  worker: z.string(),
  code: z.string(),
  message: z.string(),
  batch: z.string().nullable(),
  moulding: z.string().nullable(),
});
export type ListedError = z.output<typeof entrySchema>;

export class ErrorList {
  readonly #redis: Redis;
  readonly #key: string;
  readonly #worker: string;

  constructor(redis: Redis, keys: Keys, worker: string) {
    this.#redis = redis;
    this.#key = keys.errors;
    this.#worker = worker;
  }

  /** Never throws: an error that cannot be listed is in the log all the same. */
  async add(code: string, message: string, batch: string | null, moulding: string | null): Promise<void> {
    const entry: ListedError = {
      at: Date.now(),
      worker: this.#worker,
      code,
      message: message.slice(0, MESSAGE_KEPT),
      batch,
      moulding,
    };
    try {
      await this.#redis.lpush(this.#key, JSON.stringify(entry));
      await this.#redis.ltrim(this.#key, 0, KEPT - 1);
    } catch {
      // Redis is away.
    }
  }
}

export async function listedErrors(redis: Redis, keys: Keys): Promise<ListedError[]> {
  const texts = await redis.lrange(keys.errors, 0, KEPT - 1);
  return texts.flatMap((text) => {
    try {
      const { data } = entrySchema.safeParse(JSON.parse(text));
      return data === undefined ? [] : [data];
    } catch {
      return [];
    }
  });
}
