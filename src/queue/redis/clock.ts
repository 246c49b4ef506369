/**
 * One clock for all workers: Redis's. BullMQ stamps, delays and repeats jobs by `Date.now()` of whichever machine handles
 * them, and has no other way to be told the time. On a machine 90 s fast a job handed back came 96 s late, on one an hour
 * fast a batch began before its `notBefore`. So the clock of a worker's process is moved to Redis's, and follows it.
 */
import type { Redis } from 'ioredis';

const SECOND = 1_000;
/** Less than the way to Redis and back may take. */
const TOLERATED_MS = 200;

const systemNow = Date.now;
let offset = 0;

/** Milliseconds since 1970, so that nobody has to trust the clocks of many machines. */
export async function redisNow(redis: Redis): Promise<number> {
  const [seconds, micros] = await redis.time();
  return Number(seconds) * SECOND + Math.floor(Number(micros) / SECOND);
}

/** Milliseconds by which this machine's clock is behind Redis's; 0 where it is near enough. */
export function clockOffset(): number {
  return offset;
}

/** Measures, and moves this process's clock where it is off. Milliseconds: Redis's time, and the way there and back. */
export async function followRedisClock(
  redis: Redis,
): Promise<{ readonly now: number; readonly way: number }> {
  const before = performance.now();
  const there = await redisNow(redis);
  const way = performance.now() - before;
  const off = there + way / 2 - systemNow();
  // The answer may have been made at any moment of its way: what agrees so far with what is known changes nothing.
  const doubt = TOLERATED_MS + way;
  if (offset !== 0 && Math.abs(off - offset) < doubt) return { now: there, way };
  if (Math.abs(off) < doubt) {
    if (offset !== 0) Date.now = systemNow;
    offset = 0;
  } else {
    offset = Math.round(off);
    Date.now = () => systemNow() + offset;
  }
  return { now: there, way };
}
