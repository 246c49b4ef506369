/** Threads for what takes long: some for pages and large documents, others for what searches, so that neither waits for the other. */
import { availableParallelism } from 'node:os';
import { Piscina } from 'piscina';
import { PairstopError } from '../../errors.js';
import { ownModule } from '../../place.js';
import { entryAt } from '../../processes/solver/entry.js';
import type { HeavyAnswer, HeavySetting, HeavyTask } from './tasks.js';

const ENTRY = entryAt(ownModule('src/door/heavy/thread'));
const IDLE_MS = 60_000;
/** Tasks that may wait for a thread; beyond that the door is busy. */
const QUEUE = 64;
/** Each searches in a process of its own. */
const SEARCHES = 2;
const SEARCHES_QUEUED = 8;
/** Bytes below which copying is cheaper than moving. */
const MOVED_FROM = 65_536;
const HEAP_MB = 2_048;
/** The thread of a task that takes longer is ended. */
const LONGEST_MS = 300_000;

/** Whether a search in processes of its own is part of a task. */
function searches(task: HeavyTask): boolean {
  if (task.do === 'recut' || task.do === 'recutOf') return true;
  return (
    task.do === 'check' &&
    Buffer.from(task.body.buffer, task.body.byteOffset, task.body.byteLength).includes('"comparison"')
  );
}

/** Small buffers are cut from one that others use too. */
function whole(bytes: Uint8Array): boolean {
  return bytes.byteLength > MOVED_FROM && bytes.byteLength === bytes.buffer.byteLength;
}

export class HeavyPool {
  readonly #pages: Piscina<HeavyTask, HeavyAnswer>;
  readonly #searches: Piscina<HeavyTask, HeavyAnswer>;

  constructor(setting: HeavySetting) {
    const pool = (maxThreads: number, maxQueue: number) => {
      const threads = new Piscina<HeavyTask, HeavyAnswer>({
        filename: ENTRY.file,
        execArgv: [...ENTRY.execArgv],
        workerData: setting,
        minThreads: 0,
        maxThreads,
        maxQueue,
        idleTimeout: IDLE_MS,
        resourceLimits: { maxOldGenerationSizeMb: HEAP_MB },
      });
      // A thread that dies is replaced, and its task told; unheard, the event would end the door.
      threads.on('error', () => {});
      return threads;
    };
    this.#pages = pool(Math.max(1, Math.min(4, availableParallelism())), QUEUE);
    this.#searches = pool(SEARCHES, SEARCHES_QUEUED);
  }

  /** The bytes of the answer. Throws what the task throws, and PS_BUSY when too many wait. */
  async run(task: HeavyTask, signal?: AbortSignal): Promise<Buffer> {
    const pool = searches(task) ? this.#searches : this.#pages;
    const late = new AbortController();
    const timer = setTimeout(() => late.abort(), LONGEST_MS).unref();
    let answer: HeavyAnswer;
    try {
      const moved = 'body' in task && whole(task.body) ? [task.body.buffer as ArrayBuffer] : [];
      const ends = signal === undefined ? late.signal : AbortSignal.any([late.signal, signal]);
      answer = await pool.run(task, { transferList: moved, signal: ends });
    } catch (error) {
      if (late.signal.aborted) {
        const minutes = LONGEST_MS / 60_000;
        throw new PairstopError('PS_LARGE', `what is asked for takes the door more than ${minutes} minutes`);
      }
      const message = error instanceof Error ? error.message : String(error);
      if (/queue is at limit/i.test(message)) {
        throw new PairstopError('PS_BUSY', 'the door has as many pages and recuts to make as it takes');
      }
      if (/memory limit/i.test(message)) {
        throw new PairstopError('PS_LARGE', 'what is asked for does not fit into the memory of the door');
      }
      throw error;
    } finally {
      clearTimeout(timer);
    }
    if (answer instanceof Uint8Array) return Buffer.from(answer.buffer, answer.byteOffset, answer.byteLength);
    throw new PairstopError(answer.code, answer.message, answer.problems);
  }

  /** Tasks that wait for a thread. */
  get waiting(): number {
    return this.#pages.queueSize + this.#searches.queueSize;
  }

  async close(): Promise<void> {
    await Promise.all([this.#pages.destroy(), this.#searches.destroy()]);
  }
}
