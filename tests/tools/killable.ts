/** Starts `worker-process.ts` and hands out its end. */
import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, openSync } from 'node:fs';
import { entryAt } from '../../src/processes/solver/entry.js';
import { type LogLine, type TestSettings, testSettings } from './service.js';

export class Killable {
  readonly lines: LogLine[] = [];
  readonly #child: ChildProcess;
  readonly #exit: Promise<unknown>;
  #rest = '';

  private constructor(url: string, given: TestSettings, stdout: number | 'pipe' = 'pipe') {
    const { file, execArgv } = entryAt(
      new URL(`./worker-process.${import.meta.url.endsWith('.ts') ? 'ts' : 'js'}`, import.meta.url),
    );
    this.#child = fork(file, [JSON.stringify({ ...testSettings(url, given), logLevel: 'info' })], {
      execArgv: [...execArgv],
      stdio: ['ignore', stdout, 'inherit', 'ipc'],
    });
    this.#exit = once(this.#child, 'exit');
    this.#child.stdout?.on('data', (chunk: Buffer) => {
      const lines = (this.#rest + chunk.toString()).split('\n');
      this.#rest = lines.pop() ?? '';
      for (const line of lines) if (line.startsWith('{')) this.lines.push(JSON.parse(line) as LogLine);
    });
  }

  static async start(url: string, given: TestSettings = {}): Promise<Killable> {
    const worker = new Killable(url, given);
    const end = Date.now() + 90_000;
    while (!worker.lines.some(({ msg }) => msg === 'worker ready')) {
      if (worker.exited || Date.now() > end) {
        const said = JSON.stringify(worker.lines.at(-1) ?? 'nothing');
        const how = worker.exited ? `exit ${worker.#child.exitCode}` : 'still starting';
        throw new Error(`the worker process did not become ready: ${how}; it said last ${said}`);
      }
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
    return worker;
  }

  /** With its log on a full disk: when it serves, only Redis can tell. */
  static onFullDisk(url: string, given: TestSettings = {}): Killable {
    const full = openSync('/dev/full', 'w');
    try {
      return new Killable(url, given, full);
    } finally {
      closeSync(full);
    }
  }

  /** Its machine's clock is off by so many milliseconds from now on. */
  stepClock(ms: number): void {
    // One that has ended by itself has no clock; whoever looks for it will miss it.
    this.#child.send(ms, () => {});
  }

  get pid(): number {
    return this.#child.pid ?? 0;
  }

  get exited(): boolean {
    return this.#child.exitCode !== null || this.#child.signalCode !== null;
  }

  get exitCode(): number | null {
    return this.#child.exitCode;
  }

  signal(signal: NodeJS.Signals): void {
    this.#child.kill(signal);
  }

  /** Sends the signal and waits for the end. */
  async end(signal: NodeJS.Signals = 'SIGKILL'): Promise<void> {
    if (!this.exited) this.#child.kill(signal);
    await this.#exit;
  }
}
