/** `serve --alone`: one command starts all, what ends is started again, one signal stops all, nothing is lost. */
import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { getPriority, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { entryAt } from '../../src/processes/solver/entry.js';
import { batchOf } from '../tools/batches.js';
import { ask } from '../tools/door.js';
import { isAlive, type LogLine, until } from '../tools/service.js';

const { file, execArgv } = entryAt(new URL('../../src/cli/main.ts', import.meta.url));
let folder: string;
const started: Alone[] = [];

/** The command as a process, with the lines it and its own processes write. */
class Alone {
  readonly lines: LogLine[] = [];
  readonly #child: ChildProcess;
  readonly #exit: Promise<unknown>;
  #rest = '';

  constructor() {
    const env = { ...process.env };
    delete env.REDIS_URL;
    this.#child = fork(file, ['serve', '--alone', folder, '--port', '0'], {
      execArgv: [...execArgv],
      env: {
        ...env,
        PAIRSTOP_NOW_SLOTS: '1',
        PAIRSTOP_TONIGHT_SLOTS: '0',
        PAIRSTOP_SOLVER_MEMORY_MB: '512',
        // As good as not given.
        PAIRSTOP_WORKER_NICE: '',
      },
      stdio: ['ignore', 'pipe', 'pipe', 'ipc'],
    });
    this.#exit = once(this.#child, 'exit');
    for (const stream of [this.#child.stdout, this.#child.stderr]) {
      stream?.on('data', (chunk: Buffer) => {
        const lines = (this.#rest + chunk.toString()).split('\n');
        this.#rest = lines.pop() ?? '';
        for (const line of lines) if (line.startsWith('{')) this.lines.push(JSON.parse(line) as LogLine);
      });
    }
    started.push(this);
  }

  said(msg: string): LogLine[] {
    return this.lines.filter((line) => line.msg === msg);
  }

  pid(name: string): number {
    return Number(this.said('process started').findLast((line) => line.process === name)?.child ?? 0);
  }

  get url(): string {
    const listens = this.said('door ready').at(-1)?.listens;
    return typeof listens === 'string' ? listens : '';
  }

  async ready(times = 1): Promise<void> {
    await until('the door is ready', () => this.said('door ready').length >= times, 120_000);
  }

  async end(signal: NodeJS.Signals): Promise<number | null> {
    if (this.#child.exitCode === null && this.#child.signalCode === null) this.#child.kill(signal);
    await this.#exit;
    return this.#child.exitCode;
  }
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'pairstop-alone-'));
});

afterAll(async () => {
  for (const one of started) await one.end('SIGTERM');
  rmSync(folder, { recursive: true, force: true });
});

const NAMES = ['redis', 'worker', 'door'] as const;

describe('serve --alone', () => {
  it('plans a batch, starts again what is killed, stops in order, and has the plan after all is started anew', async () => {
    const alone = new Alone();
    await alone.ready();
    const body = batchOf('kept', ['ash']);
    const plan = await ask(alone, 'POST', '/v1/batches', { body, headers: { prefer: 'wait=60' } });
    expect(plan.body.schema).toBe('pairstop/plan@1');
    // Whoever calls the door goes before the worker's own work.
    expect(getPriority(alone.pid('worker'))).toBe(10);
    expect(getPriority(alone.pid('door'))).toBe(getPriority());
    expect(statSync(join(folder, 'redis-password')).mode & 0o077).toBe(0);
    const url = readFileSync(join(folder, 'redis-url'), 'utf8');
    expect(new URL(url.trim()).hostname).toBe('127.0.0.1');
    for (const name of NAMES) process.kill(alone.pid(name), 'SIGKILL');
    await until(
      'each is told',
      () => alone.said('a process has ended and is started again').length >= 3,
      60_000,
    );
    await alone.ready(2);
    await until('Redis is back', async () => (await ask(alone, 'GET', '/ready')).status === 200, 60_000);
    const again = await ask(alone, 'GET', '/v1/batches/kept/plan', { headers: { prefer: 'wait=60' } });
    expect(again.text).toBe(plan.text);
    const pids = NAMES.map((name) => alone.pid(name));
    expect(await alone.end('SIGTERM')).toBe(0);
    expect(alone.said('process stopped').map((line) => line.process)).toEqual(['door', 'worker', 'redis']);
    expect(pids.filter(isAlive)).toEqual([]);
  }, 400_000);

  it('takes one at a time for a folder, and goes on in one whose service was killed', async () => {
    const first = new Alone();
    await first.ready();
    const second = new Alone();
    expect(await second.end('SIGCONT')).toBe(1);
    const pids = NAMES.map((name) => first.pid(name));
    await first.end('SIGKILL');
    await until('worker and door end too', () => !isAlive(pids[1]!) && !isAlive(pids[2]!), 30_000);
    const third = new Alone();
    await third.ready();
    expect(isAlive(pids[0]!)).toBe(false);
    expect((await ask(third, 'GET', '/v1/batches/kept/plan')).status).toBe(200);
    expect(await third.end('SIGTERM')).toBe(0);
  }, 400_000);
});
