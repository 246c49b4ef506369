/** Waiting, always with a bound. */
import { setTimeout as delay } from 'node:timers/promises';
import { PairstopError } from '../../errors.js';
import { isOutage, saidOf, troubleIn } from './outage.js';

export async function sleep(ms: number, signal?: AbortSignal): Promise<void> {
  try {
    await delay(ms, undefined, signal === undefined ? {} : { signal });
  } catch {
    // Woken by the signal.
  }
}

/** The promise's own outcome, or PS_REDIS after `ms`; it goes on unheard. */
export async function within<T>(ms: number, what: string, promise: Promise<T>): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(() => {
      reject(new PairstopError('PS_REDIS', `Redis did not answer in ${ms / 1000} s: ${what}`));
    }, ms);
  });
  try {
    return await Promise.race([promise, late]);
  } finally {
    clearTimeout(timer);
  }
}

const AGAIN_LEAST_MS = 50;
const AGAIN_MOST_MS = 1_000;

/** Repeats `ask` while Redis is away, for at most `ms`; everything asked so must be safe to ask twice. */
export async function persist<T>(
  ms: number,
  what: string,
  ask: () => Promise<T>,
  signal?: AbortSignal,
): Promise<T> {
  const end = performance.now() + ms;
  for (let pause = AGAIN_LEAST_MS; ; pause = Math.min(2 * pause, AGAIN_MOST_MS)) {
    try {
      return await ask();
    } catch (error) {
      if (!isOutage(error)) throw error;
      if (signal?.aborted === true || performance.now() + pause > end) {
        const reason = error instanceof Error ? error.message : 'no answer';
        throw new PairstopError(
          'PS_REDIS',
          `${saidOf(troubleIn(error) ?? 'away')}: ${what} (${reason})`,
          [],
          { cause: error },
        );
      }
      await sleep(pause, signal);
    }
  }
}
