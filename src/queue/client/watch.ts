/** A batch's changes as they come: told by Redis, and looked for anyway in case a message was lost. */
import { PairstopError } from '../../errors.js';
import type { BatchState } from '../record/steps.js';
import { sleep } from '../redis/waiting.js';
import { LAST_WORDS, type Listener } from './listener.js';
import type { BatchStatus } from './status.js';

/** How a wait asks, again and again. */
export interface Inquiry<T> {
  readonly ask: () => Promise<T>;
  /** Whether to ask again after this error. */
  readonly again: (error: unknown) => boolean;
  /** The command that tells how the batch is doing, for whoever gives up. */
  readonly command: string;
}

export interface WatchOptions {
  /** Milliseconds until PS_PENDING; by default 13 hours, the longest time limit and some. */
  readonly timeout?: number;
  readonly signal?: AbortSignal;
}

const HOUR = 3_600_000;
/** An outage a wait survives; a worker keeps a finished result in memory for as long. */
const OUTAGE_MS = HOUR;
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

/** Asks on through outages, since the batch goes on: until the end of the wait, or for an hour. */
class PatientInquiry<T> {
  readonly #inquiry: Inquiry<T>;
  readonly #end: number;
  #away: number | null = null;

  constructor(inquiry: Inquiry<T>, end: number) {
    this.#inquiry = inquiry;
    this.#end = end;
  }

  /** Null while Redis is away. */
  async ask(): Promise<T | null> {
    const began = Date.now();
    try {
      const answer = await this.#inquiry.ask();
      this.#away = null;
      return answer;
    } catch (error) {
      if (!this.#inquiry.again(error)) throw error;
      this.#away ??= began;
      if (Date.now() < Math.min(this.#end, this.#away + OUTAGE_MS)) return null;
      const reason = error instanceof Error ? error.message : 'no answer';
      const hint = `the batch goes on, see: ${this.#inquiry.command}`;
      throw new PairstopError('PS_REDIS', `${reason}; ${hint}`, [], { cause: error });
    }
  }
}

export async function* watchBatch(
  inquiry: Inquiry<BatchStatus>,
  listener: Listener,
  channel: string,
  { timeout = LONGEST_MS, signal }: WatchOptions,
): AsyncGenerator<BatchStatus, void, undefined> {
  const end = Date.now() + timeout;
  const patient = new PatientInquiry(inquiry, end);
  const pace = new Pace();
  const leave = listener.listen(channel, pace.hear);
  let last = '';
  try {
    while (signal?.aborted !== true) {
      pace.begin();
      const status = await patient.ask();
      if (status === null) {
        await pace.pause(LEAST_GAP_MS, end, signal);
        continue;
      }
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
  inquiry: Inquiry<T>,
  listener: Listener,
  channel: string,
  timeout: number,
): Promise<T> {
  const end = Date.now() + timeout;
  if (timeout <= 0) return inquiry.ask();
  const patient = new PatientInquiry(inquiry, end);
  const first = await patient.ask();
  if (first !== null && isOver(first.state)) return first;
  const pace = new Pace();
  const leave = listener.listen(channel, pace.hear);
  try {
    for (;;) {
      pace.begin();
      const found = await patient.ask();
      if (found !== null && isOver(found.state)) return found;
      if (Date.now() >= end) throw late(id, timeout);
      await pace.pause(0, end, undefined);
    }
  } finally {
    leave();
  }
}
