/** A worker stops when it is told to, whatever stands between it and whoever tells it. */
import { execFileSync } from 'node:child_process';
import { constants, mkdirSync, openSync, readSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { LogStream } from '../../src/queue/log-stream.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { childrenOf, isAlive, testClient, until } from '../tools/service.js';
import { checkoutAt, installedAt, MAIN, ShopProcess, TempFolder } from '../tools/shop-process.js';

// Most of it is waiting; on a loaded machine processes are slow to start.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

let redis: TestRedis;
const folder = new TempFolder();

beforeAll(async () => {
  redis = await TestRedis.start();
});

afterAll(async () => {
  await ShopProcess.endAll();
  await redis.end();
  folder.remove();
});

const QUIET = { PAIRSTOP_NOW_SLOTS: '1', PAIRSTOP_TONIGHT_SLOTS: '0' };

function descendantsOf(pid: number): number[] {
  return childrenOf(pid).flatMap((child) => [child, ...descendantsOf(child)]);
}

async function heard(prefix: string): Promise<boolean> {
  const client = testClient(redis, prefix);
  const { workers } = await client.service();
  await client.close();
  return workers.length === 1;
}

describe.concurrent('SIGTERM', () => {
  it('through npm, by the line of the README, ends all there is', async () => {
    const at = join(folder.path, 'checkout');
    checkoutAt(at);
    const env = { REDIS_URL: redis.url, PAIRSTOP_PREFIX: 'npm', ...QUIET };
    const npm = new ShopProcess('npm', ['run', 'pairstop', '--', 'worker'], env, { cwd: at });
    await until('it serves', () => npm.said('worker ready').length > 0);
    const all = descendantsOf(npm.pid);
    expect(all.length).toBeGreaterThan(1);
    expect(await npm.end('SIGTERM')).toBeLessThan(10_000);
    expect(npm.exitCode).toBe(0);
    await until('nothing is left', () => !all.some(isAlive), 2_000);
    expect(npm.said('stopped')).toHaveLength(1);
  });

  it('to a shell in between, which passes nothing on, ends the worker of an npm script too', async () => {
    const env = { REDIS_URL: redis.url, PAIRSTOP_PREFIX: 'shell', npm_lifecycle_event: 'pairstop', ...QUIET };
    const shell = new ShopProcess('sh', ['-c', `"${process.execPath}" "${MAIN}" worker; :`], env);
    await until('it serves', () => shell.said('worker ready').length > 0);
    const all = descendantsOf(shell.pid);
    await shell.end('SIGTERM');
    await until('nothing is left', () => !all.some(isAlive), 10_000);
  });

  it('ends the command of the installed package', async () => {
    const at = join(folder.path, 'installed');
    mkdirSync(at);
    const bin = new ShopProcess(installedAt(at), ['worker'], {
      REDIS_URL: redis.url,
      PAIRSTOP_PREFIX: 'packed',
      ...QUIET,
    });
    await until('it serves', () => bin.said('worker ready').length > 0);
    expect(await bin.end('SIGTERM')).toBeLessThan(10_000);
    expect(bin.exitCode).toBe(0);
  });
});

// By itself: the main thread hung, heartbeats stopped, SIGTERM was not answered for minutes.
describe.concurrent('a log that cannot be written', () => {
  async function plansAndStops(prefix: string, stdout: number): Promise<ShopProcess> {
    const worker = ShopProcess.worker(redis.url, { PAIRSTOP_PREFIX: prefix, LOG_LEVEL: 'trace' }, { stdout });
    await until('it serves', () => heard(prefix));
    const client = testClient(redis, prefix, 20_000);
    for (const id of ['a', 'b']) await client.submit(batchOf(id, ['ash', 'oak']));
    for (const id of ['a', 'b']) expect((await client.result(id, { wait: 30_000 })).status).toBe('complete');
    expect((await client.service()).workers).toHaveLength(1);
    await client.close();
    expect(await worker.end('SIGTERM')).toBeLessThan(10_000);
    expect(worker.err).toBe('');
    return worker;
  }

  it('since the device is full, keeps nobody waiting', async () => {
    const worker = await plansAndStops('full', openSync('/dev/full', 'w'));
    expect(worker.exitCode).toBe(0);
  });

  it('since nobody reads the pipe, keeps nobody waiting, and what was dropped is counted', async () => {
    const path = join(folder.path, 'pipe');
    execFileSync('mkfifo', [path]);
    const fd = openSync(path, constants.O_RDWR | constants.O_NONBLOCK);
    const chunk = Buffer.alloc(4_096, 'x');
    for (let full = false; !full; ) {
      try {
        writeSync(fd, chunk);
      } catch {
        full = true;
      }
    }
    const worker = await plansAndStops('pipe', fd);
    expect(worker.exitCode).toBe(0);
  });
});

describe('a reader of the log that stops for a while', () => {
  it('is told afterwards how many lines were dropped', async () => {
    const path = join(folder.path, 'slow');
    execFileSync('mkfifo', [path]);
    const fd = openSync(path, constants.O_RDWR | constants.O_NONBLOCK);
    const stream = new LogStream(openSync(path, constants.O_WRONLY), (dropped) => `dropped ${dropped}\n`);
    for (let i = 0; i < 3_000; i++) stream.write(`${'x'.repeat(999)}\n`);
    expect(stream.dropped).toBeGreaterThan(1_500);
    let text = '';
    const read = async (): Promise<boolean> => {
      const chunk = Buffer.alloc(65_536);
      for (;;) {
        try {
          text += chunk.toString('latin1', 0, readSync(fd, chunk));
        } catch {
          break;
        }
      }
      stream.write('again\n');
      return text.includes('again');
    };
    await until('it goes on', read);
    const told = [...text.matchAll(/^dropped (\d+)$/gm)].map(([, count]) => Number(count));
    expect(told.reduce((sum, count) => sum + count, 0)).toBe(stream.dropped);
    expect(told.length).toBeLessThan(3);
    const written = [...text.matchAll(/^(x{999}|again)$/gm)].length;
    expect(written).toBeGreaterThan(900);
  });
});
