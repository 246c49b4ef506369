/** A batch's changes as they come: told by Redis, and looked for anyway in case a message was lost. */
import type { Redis } from 'ioredis';
import { PairstopError } from '../errors.js';
import { hangUp } from './connection.js';
import type { BatchStatus } from './status.js';
import { sleep } from './waiting.js';

export interface WatchOptions {
  /** Milliseconds until PS_PENDING; by default 13 hours, the longest time limit and some. */
  readonly timeout?: number;
  readonly signal?: AbortSignal;
}

const HOUR = 3_600_000;
const LONGEST_MS = 13 * HOUR;
/** At most this often, and at least every few seconds, the status is read. */
const LEAST_GAP_MS = 100;
const MOST_GAP_MS = 2_000;
const LAST_WORDS: readonly string[] = ['done', 'failed', 'cancelled'];

export async function* watchBatch(
  ask: () => Promise<BatchStatus>,
  redis: Redis,
  channel: string,
  { timeout = LONGEST_MS, signal }: WatchOptions,
): AsyncGenerator<BatchStatus, void, undefined> {
  const end = Date.now() + timeout;
  let wake = new AbortController();
  let over = new AbortController();
  redis.on('message', (_channel, what: string) => {
    wake.abort();
    if (LAST_WORDS.includes(what)) over.abort();
  });
  redis.on('ready', () => void redis.subscribe(channel).catch(() => {}));
  redis.connect().catch(() => {});
  let last = '';
  try {
    while (signal?.aborted !== true) {
      // Renewed before the look, so that what is told during it is not missed.
      wake = new AbortController();
      over = new AbortController();
      const status = await ask();
      const text = JSON.stringify({ ...status, progress: { ...status.progress, elapsed: 0, finish: 0 } });
      if (text !== last) yield status;
      last = text;
      if (status.state !== 'waiting' && status.state !== 'running') return;
      if (Date.now() >= end) {
        const waited = Math.round(timeout / 1_000);
        throw new PairstopError(
          'PS_PENDING',
          `batch ${JSON.stringify(status.id)} has no plan after ${waited} s`,
        );
      }
      const given = signal === undefined ? [] : [signal];
      await sleep(LEAST_GAP_MS, AbortSignal.any([...given, over.signal]));
      const rest = Math.max(0, Math.min(MOST_GAP_MS, end - Date.now()));
      await sleep(rest, AbortSignal.any([...given, wake.signal]));
    }
  } finally {
    hangUp(redis);
  }
}
