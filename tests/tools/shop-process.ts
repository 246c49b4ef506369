/** The program as a shop starts it: through npm in a checkout, or as an installed package; its log kept. */
import { type ChildProcess, execFileSync, type SpawnOptions, spawn } from 'node:child_process';
import { once } from 'node:events';
import { cpSync, mkdirSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { LogLine } from './service.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** The compiled copy of this checkout that the tests share (see `compile.ts`). */
export const COMPILED = process.env.PAIRSTOP_COMPILED ?? join(ROOT, 'dist');
export const MAIN = join(COMPILED, 'src/cli/main.js');

/** A folder with the package.json of this checkout and its compiled code, as after `npm ci`. */
export function checkoutAt(folder: string): void {
  mkdirSync(folder, { recursive: true });
  for (const name of ['package.json', 'README.md', 'LICENSE']) cpSync(join(ROOT, name), join(folder, name));
  cpSync(COMPILED, join(folder, 'dist'), { recursive: true });
  symlinkSync(join(ROOT, 'node_modules'), join(folder, 'node_modules'));
}

/** The package as `npm install` lays it out, its command at `node_modules/.bin/pairstop`. */
export function installedAt(folder: string): string {
  const from = join(folder, 'from');
  checkoutAt(from);
  const packed = execFileSync('npm', ['pack', '--ignore-scripts', '--silent'], { cwd: from })
    .toString()
    .trim();
  const modules = join(folder, 'node_modules');
  mkdirSync(join(modules, '.bin'), { recursive: true });
  execFileSync('tar', ['-xzf', join(from, packed), '-C', modules]);
  execFileSync('mv', [join(modules, 'package'), join(modules, 'pairstop')]);
  symlinkSync(join(ROOT, 'node_modules'), join(modules, 'pairstop/node_modules'));
  symlinkSync('../pairstop/dist/src/cli/main.js', join(modules, '.bin/pairstop'));
  execFileSync('chmod', ['+x', join(modules, 'pairstop/dist/src/cli/main.js')]);
  return join(modules, '.bin/pairstop');
}

export class TempFolder {
  readonly path = mkdtempSync(join(tmpdir(), 'pairstop-test-'));

  remove(): void {
    rmSync(this.path, { recursive: true, force: true });
  }
}

/** A worker or another long-lived command; its standard output is read as log lines unless `stdout` says otherwise. */
export class ShopProcess {
  static readonly #all = new Set<ShopProcess>();
  readonly lines: LogLine[] = [];
  readonly child: ChildProcess;
  readonly #exit: Promise<unknown>;
  err = '';

  constructor(
    command: string,
    args: readonly string[],
    env: Readonly<Record<string, string>>,
    options: SpawnOptions & { readonly stdout?: number } = {},
  ) {
    const { stdout = 'pipe', ...rest } = options;
    this.child = spawn(command, args, {
      ...rest,
      env: { PATH: process.env.PATH, HOME: process.env.HOME, ...env },
      stdio: ['ignore', stdout, 'pipe'],
    });
    this.#exit = once(this.child, 'exit');
    ShopProcess.#all.add(this);
    let text = '';
    this.child.stdout?.on('data', (chunk: Buffer) => {
      const lines = (text + chunk.toString()).split('\n');
      text = lines.pop() ?? '';
      for (const line of lines) if (line.startsWith('{')) this.lines.push(JSON.parse(line) as LogLine);
    });
    this.child.stderr?.on('data', (chunk: Buffer) => {
      this.err += chunk.toString();
    });
  }

  /** For the end of a test file: none outlives a test that failed. */
  static async endAll(): Promise<void> {
    await Promise.all([...ShopProcess.#all].map((one) => one.end()));
  }

  /** `pairstop worker` in a process of its own. */
  static worker(
    url: string,
    env: Readonly<Record<string, string>> = {},
    options: SpawnOptions & { readonly stdout?: number; readonly node?: readonly string[] } = {},
  ): ShopProcess {
    const { node = [], ...rest } = options;
    const slots = { PAIRSTOP_NOW_SLOTS: '1', PAIRSTOP_TONIGHT_SLOTS: '0' };
    return new ShopProcess(
      process.execPath,
      [...node, MAIN, 'worker'],
      { REDIS_URL: url, ...slots, ...env },
      rest,
    );
  }

  get pid(): number {
    return this.child.pid ?? 0;
  }

  get exited(): boolean {
    return this.child.exitCode !== null || this.child.signalCode !== null;
  }

  get exitCode(): number | null {
    return this.child.exitCode;
  }

  said(msg: string): readonly LogLine[] {
    return this.lines.filter((line) => line.msg === msg);
  }

  signal(signal: NodeJS.Signals): void {
    this.child.kill(signal);
  }

  /** Sends the signal and waits for the end; milliseconds it took. */
  async end(signal: NodeJS.Signals = 'SIGKILL'): Promise<number> {
    const began = performance.now();
    if (!this.exited) {
      this.child.kill('SIGCONT');
      this.child.kill(signal);
    }
    if (!this.exited) await this.#exit;
    return performance.now() - began;
  }
}
