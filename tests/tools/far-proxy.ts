/** Starts `proxy-process.ts`: what passes through it does not wait for this process. */
import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { entryAt } from '../../src/processes/solver/entry.js';

export class FarProxy {
  readonly #child: ChildProcess;
  readonly url: string;

  private constructor(child: ChildProcess, port: number) {
    this.#child = child;
    this.url = `redis://127.0.0.1:${port}`;
  }

  static async to(port: number): Promise<FarProxy> {
    const own = import.meta.url.endsWith('.ts') ? 'ts' : 'js';
    const { file, execArgv } = entryAt(new URL(`./proxy-process.${own}`, import.meta.url));
    const child = fork(file, [String(port)], { execArgv: [...execArgv] });
    const [heard] = (await once(child, 'message')) as [number];
    return new FarProxy(child, heard);
  }

  silence(): void {
    this.#child.send('silence');
  }

  async end(): Promise<void> {
    const gone = once(this.#child, 'exit');
    this.#child.kill('SIGKILL');
    await gone;
  }
}
