/** A batch's changes as they come: told by Redis, and looked for anyway in case a message was lost. */
import { PairstopError } from '../errors.js';
import { LAST_WORDS, type Listener } from './listener.js';
import type { BatchStatus } from './status.js';
import type { BatchState } from './store.js';
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

function isOver(state: BatchState): boolean {
  return state !== 'waiting' && state !== 'running';
}

/** Pauses between looks: short once something was told, none once it was the end. */
class Pace {
  #told = new AbortController();
  #over = new AbortController();

  readonly hear = (what: string): void => {
    this.#told.abort();
    if (LAST_WORDS.includes(what)) this.#over.abort();
  };

  /** Before each look, so that what is told during it is not missed. */
  begin(): void {
    this.#told = new AbortController();
    this.#over = new AbortController();
  }

  /** Until it is worth looking again, at least `least` milliseconds after the last look unless it was the end. */
  async pause(least: number, end: number, signal: AbortSignal | undefined): Promise<void> {
    const given = signal === undefined ? [] : [signal];
    if (least > 0) await sleep(least, AbortSignal.any([...given, this.#over.signal]));
    const told = least > 0 ? this.#told.signal : this.#over.signal;
    await sleep(Math.max(0, Math.min(MOST_GAP_MS, end - Date.now())), AbortSignal.any([...given, told]));
  }
}

function late(id: string, timeout: number): PairstopError {
  const waited = Math.round(timeout / 1_000);
  return new PairstopError('PS_PENDING', `batch ${JSON.stringify(id)} has no plan after ${waited} s`);
}

export async function* watchBatch(
  ask: () => Promise<BatchStatus>,
  listener: Listener,
  channel: string,
  { timeout = LONGEST_MS, signal }: WatchOptions,
): AsyncGenerator<BatchStatus, void, undefined> {
  const end = Date.now() + timeout;
  const pace = new Pace();
  const leave = listener.listen(channel, pace.hear);
  let last = '';
  try {
    while (signal?.aborted !== true) {
      pace.begin();
      const status = await ask();
      const text = JSON.stringify({ ...status, progress: { ...status.progress, elapsed: 0, finish: 0 } });
      if (text !== last) yield status;
      last = text;
      if (isOver(status.state)) return;
      if (Date.now() >= end) throw late(status.id, timeout);
      await pace.pause(LEAST_GAP_MS, end, signal);
    }
  } finally {
    leave();
  }
}

/** Waits for the end of a batch, `timeout` milliseconds at most: then throws PS_PENDING. */
export async function awaitEnd<T extends { readonly state: BatchState }>(
  id: string,
  ask: () => Promise<T>,
  listener: Listener,
  channel: string,
  timeout: number,
): Promise<T> {
  const end = Date.now() + timeout;
  const first = await ask();
  if (isOver(first.state) || timeout <= 0) return first;
  const pace = new Pace();
  const leave = listener.listen(channel, pace.hear);
  try {
    for (;;) {
      pace.begin();
      const found = await ask();
      if (isOver(found.state)) return found;
      if (Date.now() >= end) throw late(id, timeout);
      await pace.pause(0, end, undefined);
    }
  } finally {
    leave();
  }
}
