/** Solver processes kept ready. Each takes one task at a time; one that died, grew, or has done its share is replaced. */
import { PairstopError } from '../../errors.js';
import { type Ended, type ProcessSettings, SolverProcess } from './process.js';
import type { Improved, Task } from './tasks.js';
import { Turnstile } from './turnstile.js';

export interface PoolSettings extends ProcessSettings {
  readonly size: number;
  /** So many of the processes are kept for small tasks. By default none. */
  readonly kept?: number;
  /** Their nice(1); by default that of the others. */
  readonly keptNice?: number;
  /** Tasks after which a process is replaced. */
  readonly recycleAfter: number;
}

export interface PoolFigures {
  readonly starts: number;
  readonly kills: number;
  readonly deaths: number;
  readonly memory: number;
  readonly busy: number;
}

export interface TaskOrder<T extends Task> {
  readonly task: T;
  /** Milliseconds after which the process is killed, counted from when it has read the batch. */
  readonly limit: number;
  /** And so many more for each rail of the task's. By default none. */
  readonly aRail?: number;
  /** Milliseconds in which it must have read the batch, where it does not hold it. By default none. */
  readonly reading?: number;
}

export interface RunOptions {
  /** Key of the batch it is about: a free process that holds it is taken before others. */
  readonly key?: string;
  /** It may use a process kept for small tasks. */
  readonly small?: boolean;
  readonly signal?: AbortSignal | undefined;
  readonly onImproved?: (improved: Improved) => void;
  /** The process has read the batch. */
  readonly onRead?: () => void;
}

/** `late`: it did not answer within `limit` milliseconds, or had not even read the batch. `aborted`: the signal came first. */
export type TaskOutcome<T extends Task> =
  | Ended<T>
  | { readonly kind: 'late'; readonly limit: number }
  | { readonly kind: 'aborted' };

/** A process grown beyond this share of its limit is replaced before the next task. */
const RSS_SHARE = 0.5;
/** After so many processes in a row that never became ready, the pool gives up on a task. */
const FAILED_STARTS = 3;
/** After so many processes in a row that did not take the task, the pool gives up on it. */
const STOOD_STILL_MOST = 3;

export class SolverPool {
  readonly #settings: PoolSettings;
  readonly #all = new Set<SolverProcess>();
  readonly #idle: SolverProcess[] = [];
  /** Those that small tasks take first, and others only where there is nothing else. */
  readonly #kept = new Set<SolverProcess>();
  readonly #turnstile: Turnstile;
  #closed = false;
  #starts = 0;
  #kills = 0;
  #deaths = 0;

  constructor(settings: PoolSettings) {
    this.#settings = settings;
    const { size, kept = 0 } = settings;
    this.#turnstile = new Turnstile({ all: size, large: size - kept });
    for (let i = 0; i < size; i++) this.#start(i < kept);
  }

  get size(): number {
    return this.#settings.size;
  }

  /** Since the start: processes started, killed (time limit, cancel) and died by themselves; and the bytes they hold now. */
  get figures(): PoolFigures {
    const memory = [...this.#all].reduce((sum, { rss }) => sum + rss, 0);
    return {
      starts: this.#starts,
      kills: this.#kills,
      deaths: this.#deaths,
      memory,
      busy: this.#turnstile.inside,
    };
  }

  /** Whether a small task waits for a process. */
  get smallWaits(): boolean {
    return this.#turnstile.smallWaits;
  }

  get pids(): readonly number[] {
    return [...this.#all].flatMap(({ pid, alive }) => (alive && pid !== undefined ? [pid] : []));
  }

  /** `order` is called when a process is free for the task, and told whether it holds the batch. */
  async run<T extends Task>(
    order: (holds: boolean) => TaskOrder<T> | Promise<TaskOrder<T>>,
    options: RunOptions = {},
  ): Promise<TaskOutcome<T>> {
    for (let stood = 1; ; stood++) {
      const outcome = await this.#attempt(order, options);
      // A process that stood still had not begun: another takes the task, and it does not count as an attempt.
      if (outcome.kind !== 'died' || outcome.taken || stood === STOOD_STILL_MOST) return outcome;
    }
  }

  async #attempt<T extends Task>(
    order: (holds: boolean) => TaskOrder<T> | Promise<TaskOrder<T>>,
    options: RunOptions,
  ): Promise<TaskOutcome<T>> {
    const { small = false, signal } = options;
    if (!(await this.#turnstile.enter(small, signal))) {
      if (signal?.aborted === true) return { kind: 'aborted' };
      throw noProcess('they have been ended');
    }
    try {
      return await this.#perform(order, options);
    } finally {
      this.#turnstile.leave(small);
    }
  }

  async #perform<T extends Task>(
    order: (holds: boolean) => TaskOrder<T> | Promise<TaskOrder<T>>,
    { key = '', small = false, signal, onImproved = () => {}, onRead = () => {} }: RunOptions,
  ): Promise<TaskOutcome<T>> {
    const process = await this.#take(key, small, signal);
    if (process === null) return { kind: 'aborted' };
    let ordered: TaskOrder<T>;
    try {
      ordered = await order(process.holds(key));
    } catch (error) {
      this.#release(process);
      throw error;
    }
    const { task, limit, aRail = 0, reading = 0 } = ordered;
    let stopped: { readonly kind: 'late'; readonly limit: number } | { readonly kind: 'aborted' } | null =
      null;
    const stop = (why: NonNullable<typeof stopped>) => {
      stopped ??= why;
      process.kill();
    };
    const abort = () => stop({ kind: 'aborted' });
    if (signal?.aborted === true) abort();
    signal?.addEventListener('abort', abort, { once: true });
    const stopAfter = (ms: number) => setTimeout(() => stop({ kind: 'late', limit: ms }), ms);
    let timer = stopAfter(reading + limit);
    try {
      const ended = await process.run(task, {
        onImproved: (improved) => {
          if (stopped?.kind !== 'aborted') onImproved(improved);
        },
        onRead: (rails) => {
          clearTimeout(timer);
          timer = stopAfter(limit + aRail * rails);
          onRead();
        },
      });
      if (ended.kind === 'died' && stopped !== null) return stopped;
      if (ended.kind === 'died') this.#deaths += 1;
      return ended;
    } finally {
      if (stopped !== null) this.#kills += 1;
      clearTimeout(timer);
      signal?.removeEventListener('abort', abort);
      this.#release(process);
    }
  }

  /** Resolves when every process is ready, or has failed to start. */
  async warm(): Promise<void> {
    await Promise.all([...this.#all].map((process) => process.ready));
  }

  /** Kills every process and waits until all are gone. */
  async close(): Promise<void> {
    this.#closed = true;
    this.#turnstile.close();
    await Promise.all([...this.#all].map((process) => process.end()));
  }

  #start(kept: boolean): void {
    if (this.#closed) return;
    this.#starts += 1;
    const { nice, keptNice = nice } = this.#settings;
    const process = new SolverProcess({ ...this.#settings, nice: kept ? keptNice : nice });
    if (kept) this.#kept.add(process);
    this.#all.add(process);
    this.#idle.push(process);
  }

  #release(process: SolverProcess): void {
    const { recycleAfter, rssMb } = this.#settings;
    const spent = process.jobs >= recycleAfter || process.rss > rssMb * 2 ** 20 * RSS_SHARE;
    if (process.alive && !spent) this.#idle.push(process);
    else this.#replace(process);
  }

  #replace(process: SolverProcess): void {
    void process.end().then(() => this.#all.delete(process));
    this.#start(this.#kept.delete(process));
  }

  /** One for whoever has passed the turnstile: there are as many as it lets in. Null when the signal came first. */
  async #take(key: string, small: boolean, signal: AbortSignal | undefined): Promise<SolverProcess | null> {
    for (let failed = 0; failed < FAILED_STARTS && !this.#closed; failed++) {
      const process = this.#free(key, small);
      if (process === undefined) break;
      if ((await process.ready) && process.alive) {
        if (signal?.aborted !== true) return process;
        this.#idle.push(process);
        return null;
      }
      this.#replace(process);
    }
    throw noProcess(this.#closed ? 'they have been ended' : `none became ready in ${FAILED_STARTS} attempts`);
  }

  #free(key: string, small: boolean): SolverProcess | undefined {
    const chosen =
      this.#idle.find((process) => process.holds(key) && this.#kept.has(process) === small) ??
      this.#idle.find((process) => this.#kept.has(process) === small) ??
      this.#idle[0];
    if (chosen !== undefined) this.#idle.splice(this.#idle.indexOf(chosen), 1);
    return chosen;
  }
}

function noProcess(why: string): PairstopError {
  return new PairstopError('PS_SOLVER', `there is no solver process: ${why}`);
}
