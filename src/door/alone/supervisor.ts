/** Keeps processes running: one that ends is told and started again, sooner or later; all are stopped in order. */
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import type { Logger } from 'pino';

const AGAIN_LEAST_MS = 250;
const AGAIN_MOST_MS = 30_000;
/** One that ran for so long had started well. */
const WELL_MS = 60_000;

export interface Role {
  readonly name: string;
  readonly start: () => ChildProcess;
  /** Milliseconds it has to stop. */
  readonly stopWithin: number;
}

export class Supervised {
  readonly #role: Role;
  readonly #log: Logger;
  readonly #fault: (error: Error) => void;
  #child: ChildProcess | null = null;
  #timer: NodeJS.Timeout | null = null;
  #pause = AGAIN_LEAST_MS;
  #stopping = false;

  constructor(role: Role, log: Logger, fault: (error: Error) => void) {
    this.#role = role;
    this.#log = log;
    this.#fault = fault;
  }

  get pid(): number | null {
    return this.#child?.pid ?? null;
  }

  start(): void {
    const { name, start } = this.#role;
    const began = Date.now();
    const child = start();
    this.#child = child;
    child.on('error', (error) => this.#fault(error));
    child.once('exit', (code, signal) => {
      this.#child = null;
      if (this.#stopping) return;
      if (Date.now() - began > WELL_MS) this.#pause = AGAIN_LEAST_MS;
      this.#log.error(
        { process: name, code, signal, again: this.#pause },
        'a process has ended and is started again',
      );
      this.#timer = setTimeout(() => this.start(), this.#pause);
      this.#pause = Math.min(2 * this.#pause, AGAIN_MOST_MS);
    });
    this.#log.info({ process: name, child: child.pid }, 'process started');
  }

  async stop(): Promise<void> {
    this.#stopping = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
    const child = this.#child;
    if (child === null) return;
    const ended = once(child, 'exit');
    child.kill('SIGTERM');
    const late = setTimeout(() => child.kill('SIGKILL'), this.#role.stopWithin);
    await ended;
    clearTimeout(late);
    this.#log.info({ process: this.#role.name }, 'process stopped');
  }
}
