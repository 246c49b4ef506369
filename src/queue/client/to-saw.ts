/** How long it would take to saw what is planned and, as far as the rack knows, not yet cut. */
import type { Redis } from 'ioredis';
import { globFor, type Keys } from '../names.js';
import { isDamage } from '../redis/outage.js';

export interface UncutPlans {
  /** Finished plans of which nothing is known to be cut. Only of pieces of the shop's rack is it known whether they are. */
  readonly plans: number;
  /** What sawing them takes, those of `unknown` left out. */
  readonly seconds: number;
  /** Plans of older programs, which do not say. */
  readonly unknown: number;
}

const SCANNED = 1_000;
const USED = 'used ';

/** Batches that some piece of the rack has been cut for. */
async function begunFor(redis: Redis, keys: Keys): Promise<ReadonlySet<string>> {
  const states = await redis.hvals(keys.rack.states);
  return new Set(states.flatMap((state) => (state.startsWith(USED) ? [state.slice(USED.length)] : [])));
}

/** Nothing where something else lies under the key; `status` says so. */
async function recordOf(redis: Redis, key: string): Promise<readonly (string | null)[]> {
  try {
    return await redis.hmget(key, 'id', 'state', 'night', 'seconds');
  } catch (error) {
    if (isDamage(error)) return [];
    throw error;
  }
}

export async function toSawOf(redis: Redis, keys: Keys): Promise<UncutPlans> {
  const begun = await begunFor(redis, keys);
  const prefix = keys.record('');
  // A scan may answer a key twice.
  const seen = new Set<string>();
  let [plans, seconds, unknown] = [0, 0, 0];
  const stream = redis.scanStream({ match: `${globFor(prefix)}b-*`, count: SCANNED });
  for await (const names of stream as AsyncIterable<readonly string[]>) {
    // An earlier revision stands behind an @, which no job id holds.
    const own = names.filter((name) => !/[@:]/.test(name.slice(prefix.length)) && !seen.has(name));
    for (const name of own) seen.add(name);
    for (const values of await Promise.all(own.map((name) => recordOf(redis, name)))) {
      const [id = null, state, night = null, takes = null] = values;
      // A batch of a night is cut with its night.
      if (id === null || state !== 'done' || night !== null || begun.has(id)) continue;
      plans += 1;
      if (takes === null || !Number.isFinite(Number(takes))) unknown += 1;
      else seconds += Number(takes);
    }
  }
  return { plans, seconds, unknown };
}
