/** One solver process, seen from its parent. It takes one task at a time and can be killed at any moment. */
import { type ChildProcess, fork } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { setPriority } from 'node:os';
import { Readable } from 'node:stream';
import { PairstopError } from '../../errors.js';
import type { EntryFile } from './entry.js';
import { FrameReader, PIPE_FD } from './frames.js';
import { Holding } from './holding.js';
import { type Improved, type SolverReply, sizeOf, type Task, type TaskAnswer } from './tasks.js';

export interface ProcessSettings {
  readonly entry: EntryFile;
  readonly heapMb: number;
  readonly rssMb: number;
  /** As for nice(1): 0 is ordinary, 19 yields to everything else. */
  readonly nice: number;
}

/** How a task ended. */
export type Ended<T extends Task> =
  | { readonly kind: 'done'; readonly answer: TaskAnswer<T> }
  | { readonly kind: 'failed'; readonly error: PairstopError }
  /** `taken`: it had begun with the task. */
  | { readonly kind: 'died'; readonly reason: string; readonly taken: boolean };

/** What a process tells while it works on a task. */
export interface TaskHearing {
  readonly onImproved: (improved: Improved) => void;
  /** It has read the batch, and so many rails of it are the task's. */
  readonly onRead: (rails: number) => void;
}

interface RunningTask extends TaskHearing {
  readonly end: (ended: Ended<Task>) => void;
}

const STDERR_KEPT = 16_000;
const START_MS = 30_000;
/** A process that has not begun its task after this time never will: it is stopped, or gets no processor time. */
const TAKE_MS = 120_000;
const TAKE_LOOK_MS = 1_000;

/** Whether the system has stopped the process (SIGSTOP, a debugger); false where the system does not tell. */
function isStopped(pid: number): boolean {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
    return /^ [Tt]/.test(stat.slice(stat.lastIndexOf(')') + 1));
  } catch {
    return false;
  }
}

export class SolverProcess {
  /** Resolves when it can take a task; to false when it never will. */
  readonly ready: Promise<boolean>;
  jobs = 0;
  /** Bytes, as of its last answer. */
  rss = 0;
  readonly #child: ChildProcess;
  readonly #settings: ProcessSettings;
  readonly #gone: Promise<void>;
  #running: RunningTask | null = null;
  #taken = false;
  #toTake: NodeJS.Timeout | undefined;
  readonly #holding = new Holding<null>();
  #stderr = '';
  #alive = true;
  #becomeReady: (ready: boolean) => void = () => {};

  constructor(settings: ProcessSettings) {
    this.#settings = settings;
    const { entry, heapMb, rssMb } = settings;
    this.#child = fork(entry.file, [String(process.pid), String(rssMb * 2 ** 20)], {
      execArgv: [...entry.execArgv, `--max-old-space-size=${heapMb}`],
      serialization: 'advanced',
      // The child gets nothing of the parent's environment, which may hold Redis's password.
      env: { PATH: process.env.PATH, HOME: process.env.HOME, TMPDIR: process.env.TMPDIR },
      stdio: ['ignore', 'ignore', 'pipe', 'ipc', 'pipe'],
    });
    this.ready = new Promise((resolve) => {
      this.#becomeReady = resolve;
    });
    const tooLate = setTimeout(() => this.kill(), START_MS);
    void this.ready.then(() => clearTimeout(tooLate));
    this.#gone = new Promise((resolve) => {
      this.#child.once('exit', (code, signal) => this.#exited(code, signal, resolve));
      this.#child.once('error', (error) => {
        this.#stderr += error.message;
        this.#exited(null, null, resolve);
      });
    });
    this.#listen();
  }

  get alive(): boolean {
    return this.#alive;
  }

  /** Whether a task about this batch may come without it. */
  holds(key: string): boolean {
    return this.#holding.has(key);
  }

  get pid(): number | undefined {
    return this.#child.pid;
  }

  run<T extends Task>(task: T, hearing: TaskHearing): Promise<Ended<T>> {
    if (this.#running !== null)
      throw new PairstopError('PS_INTERNAL', 'a solver process takes one task at a time');
    if (!this.#alive)
      return Promise.resolve({ kind: 'died', reason: this.#epitaph(null, null), taken: false });
    return new Promise((resolve) => {
      // The process answers the task it was given, so the answer has that task's type.
      this.#running = { ...hearing, end: resolve as (ended: Ended<Task>) => void };
      this.#note(task);
      this.#taken = false;
      const given = performance.now();
      this.#toTake = setInterval(() => {
        // Starved is not stopped: on a machine with much else to do a niced process is slow to take anything.
        const { pid } = this.#child;
        if (performance.now() - given < TAKE_MS && !(pid !== undefined && isStopped(pid))) return;
        this.#stderr += 'it did not take its task';
        this.kill();
      }, TAKE_LOOK_MS);
      this.#child.send(task, (error) => {
        if (error !== null) this.kill();
      });
    });
  }

  kill(): void {
    if (this.#child.exitCode === null && this.#child.signalCode === null) this.#child.kill('SIGKILL');
  }

  /** Kills it and waits until it is gone. */
  async end(): Promise<void> {
    this.kill();
    await this.#gone;
  }

  #yield(): void {
    const { pid } = this.#child;
    const { nice } = this.#settings;
    if (nice === 0 || pid === undefined) return;
    try {
      setPriority(pid, nice);
    } catch {
      // The process is gone, or the system has no priorities: then it shares the processor evenly.
    }
  }

  /** Keeps the list of what the process holds, by the same rule (see holding.ts). */
  #note(task: Task): void {
    if (task.kind === 'read' || task.kind === 'compose') return;
    const { key, source } = task.batch;
    if (source === null) this.#holding.use(key);
    else this.#holding.keep(key, sizeOf(source), null);
  }

  #listen(): void {
    this.#child.stderr?.on('data', (chunk: Buffer) => {
      this.#stderr = (this.#stderr + chunk.toString()).slice(-STDERR_KEPT);
    });
    const pipe = this.#child.stdio[PIPE_FD];
    if (!(pipe instanceof Readable))
      throw new PairstopError('PS_INTERNAL', 'a solver process without its pipe');
    const reader = new FrameReader((message) => this.#take(message as SolverReply));
    pipe.on('data', (chunk: Buffer) => {
      try {
        reader.push(chunk);
      } catch {
        this.kill();
      }
    });
    pipe.on('error', () => this.kill());
  }

  #take(reply: SolverReply): void {
    switch (reply.kind) {
      case 'ready':
        // It starts at ordinary priority: a niced start took minutes on a busy machine, and was given up.
        this.#yield();
        this.#becomeReady(true);
        return;
      case 'taken':
        this.#taken = true;
        clearInterval(this.#toTake);
        return;
      case 'read':
        this.#running?.onRead(reply.rails);
        return;
      case 'improved':
        this.#running?.onImproved(reply.improved);
        return;
      case 'done':
        this.rss = reply.rss;
        // A process that has read a batch holds it.
        if ('fingerprint' in reply.answer) {
          this.#holding.keep(reply.answer.fingerprint, reply.answer.sealed.length, null);
        }
        this.#finish({ kind: 'done', answer: reply.answer });
        return;
      case 'failed':
        this.rss = reply.rss;
        this.#holding.clear();
        this.#finish({
          kind: 'failed',
          error: new PairstopError(reply.code, reply.message, reply.problems),
        });
        return;
      default:
        reply satisfies never;
        this.kill();
    }
  }

  #finish(ended: Ended<Task>): void {
    const running = this.#running;
    this.#running = null;
    clearInterval(this.#toTake);
    this.jobs += 1;
    running?.end(ended);
  }

  #epitaph(code: number | null, signal: NodeJS.Signals | null): string {
    if (this.#stderr.includes('memory limit reached')) {
      return `it took more than ${this.#settings.rssMb} MB of memory`;
    }
    if (this.#stderr.includes('did not take its task')) return 'it stood still';
    if (this.#stderr.includes('heap out of memory')) return `its heap outgrew ${this.#settings.heapMb} MB`;
    return signal === null
      ? `it ended by itself with code ${code ?? 'unknown'}`
      : `it was ended by ${signal}`;
  }

  #exited(code: number | null, signal: NodeJS.Signals | null, gone: () => void): void {
    if (!this.#alive) return;
    this.#alive = false;
    this.#becomeReady(false);
    // What it wrote before its end may still be in the pipe; an answer in there counts.
    const settle = () => {
      this.#finish({ kind: 'died', reason: this.#epitaph(code, signal), taken: this.#taken });
      gone();
    };
    const pipe = this.#child.stdio[PIPE_FD];
    if (pipe instanceof Readable && !pipe.readableEnded && !pipe.destroyed) pipe.once('close', settle);
    else settle();
  }
}
