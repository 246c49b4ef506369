/** Faults of workers, clocks and versions; the tests wait side by side. */
import { execFileSync } from 'node:child_process';
import {
  existsSync,
  lstatSync,
  mkdirSync,
  readFileSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { writeOutput } from '../../src/cli/files.js';
import { batchOf } from '../tools/batches.js';
import { DEMO, runCli } from '../tools/cli.js';
import { Killable } from '../tools/killable.js';
import { TestRedis } from '../tools/redis.js';
import { type LogLine, testClient, testWorker, until } from '../tools/service.js';
import { MAIN, ShopProcess, TempFolder } from '../tools/shop-process.js';

const READY = 'worker ready';
const WAIT = { wait: 90_000 };
const HOUR_FAST = `data:text/javascript,${encodeURIComponent('const now = Date.now; Date.now = () => now() + 3_600_000;')}`;

// Most of it is waiting; on a loaded machine processes are slow to start.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

let redis: TestRedis;
let raw: Redis;
const folder = new TempFolder();

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
});

afterAll(async () => {
  await ShopProcess.endAll();
  raw.disconnect();
  await redis.end();
  folder.remove();
});

async function started(
  prefix: string,
  env: Readonly<Record<string, string>> = {},
  node: readonly string[] = [],
) {
  const worker = ShopProcess.worker(redis.url, { PAIRSTOP_PREFIX: prefix, ...env }, { node });
  await until('it serves', () => worker.said(READY).length > 0, 90_000);
  return worker;
}

describe.concurrent('time', () => {
  // By itself: kept from its submission on, so it was forgotten before it began.
  it('to be kept begins at the end: nothing unfinished expires', async () => {
    const submitting = testClient(redis, 'kept');
    const brief = (await import('../../src/queue/client/client.js')).createClient({
      connection: redis.url,
      prefix: 'kept',
      retention: 500,
    });
    const soon = new Date(Date.now() + 4_000).toISOString();
    await brief.submit(batchOf('later', ['ash'], { notBefore: soon }));
    await new Promise((resolve) => setTimeout(resolve, 1_500));
    expect((await brief.status('later')).state).toBe('waiting');
    const worker = await testWorker(redis.url, { prefix: 'kept', retention: 60_000 });
    expect((await submitting.result('later', WAIT)).status).toBe('complete');
    expect(await raw.pttl('kept:store:b-later')).toBeGreaterThan(1_000);
    await worker.stop();
    await brief.close();
    await submitting.close();
  });

  // By itself: a worker an hour fast began such a batch 49 minutes early.
  it('is that of Redis: a worker an hour fast begins no batch early and keeps none waiting', async () => {
    const client = testClient(redis, 'fast');
    const worker = await started('fast', {}, ['--import', HOUR_FAST]);
    expect(worker.lines.some(({ msg }) => /clock is 3600 s fast/.test(msg))).toBe(true);
    const start = Date.now() + 5_000;
    await client.submit(batchOf('not-before', ['ash'], { notBefore: new Date(start).toISOString() }));
    await client.submit(batchOf('at-once', ['ash']));
    expect((await client.result('at-once', WAIT)).status).toBe('complete');
    await client.result('not-before', WAIT);
    const { started: began } = await client.status('not-before');
    expect(began).toBeGreaterThanOrEqual(start);
    expect(began).toBeLessThan(start + 20_000);
    // By its own clock it would take the batch again and again, and put it off as often.
    expect(worker.said('batch waits for its time').length).toBeLessThan(3);
    await worker.end('SIGTERM');
    await client.close();
  });

  // By itself: told twice in a soak, 3602 s fast and then 3600, since an answer was two seconds late.
  it('is measured as well as the answer is quick: a slow one moves no clock', async () => {
    const own = await TestRedis.start();
    const worker = await Killable.start(own.url, { prefix: 'slow' });
    const told = (): readonly LogLine[] => worker.lines.filter(({ msg }) => /machine's clock/.test(msg));
    worker.stepClock(3_600_000);
    await until('it is told', () => told().length > 0, 30_000);
    const asking = own.connect();
    await asking.call('CLIENT', 'PAUSE', '3500', 'ALL');
    await asking.ping();
    // Two heartbeats later.
    await new Promise((resolve) => setTimeout(resolve, 1_500));
    expect(told()).toHaveLength(1);
    worker.stepClock(0);
    await until('that it agrees again', () => told().length > 1, 30_000);
    expect(told()[1]?.msg).toMatch(/agrees with Redis's again/);
    asking.disconnect();
    await worker.end('SIGTERM');
    await own.end();
  });

  // By itself: to the end of the queue.
  it('spent waiting counts: work handed back at SIGTERM keeps its place', async () => {
    const client = testClient(redis, 'place');
    const first = await testWorker(redis.url, { prefix: 'place' });
    // Of so many lines that they are not small and share the one slot.
    await client.submit(batchOf('first', ['wait-20000'], { frames: 100 }));
    await until('it has begun', () => first.begun('wait-20000') === 1);
    await client.submit(batchOf('second', ['wait-1000'], { frames: 100 }));
    await until('the second waits', async () => (await client.service()).queues.now.mouldings.waiting === 1);
    await first.stop();
    expect(await raw.zrange('place:part-now:prioritized', '0', '-1')).toEqual([
      'b-first.1.0',
      'b-second.1.0',
    ]);
    await client.close();
  });
});

describe.concurrent('what a job carries', () => {
  // By itself: a refused job of 89 MB kept 100 MB in Redis for ever.
  it('is dropped when the job is refused', async () => {
    const worker = await testWorker(redis.url, { prefix: 'strip' });
    const queue = new Queue('batch-now', { connection: redis.connect(), prefix: 'strip' });
    const parts = new Queue('part-now', { connection: redis.connect(), prefix: 'strip' });
    const text = 'x'.repeat(5_000_000);
    await queue.add('batch', { schema: 'pairstop/job@1', batch: text }, { jobId: 'b-refused' });
    await parts.add('part', { schema: 'pairstop/part@1', text }, { jobId: 'refused' });
    const failed = async (of: Queue): Promise<boolean> => (await of.getJobCounts('failed')).failed === 1;
    await until('both are refused', async () => (await failed(queue)) && (await failed(parts)), 90_000);
    for (const key of ['strip:batch-now:b-refused', 'strip:part-now:refused']) {
      expect(Number(await raw.call('MEMORY', 'USAGE', key))).toBeLessThan(5_000);
    }
    await queue.close();
    await parts.close();
    await worker.stop();
  });
});

describe.concurrent('another version', () => {
  it('of records is left alone and named; of heartbeats is kept and counted', async () => {
    const client = testClient(redis, 'versions');
    const document = batchOf('newer', ['ash']);
    await client.submit(document);
    await raw.hset('versions:store:b-newer', 'format', '2');
    const now = Date.now();
    const beat = {
      ...{ id: 'old', host: 'elsewhere', pid: 1, at: now, started: now, every: 600_000 },
      ...{ slots: { now: 3, tonight: 4 }, running: [], done: 0, failed: 0, memory: 1 },
    };
    await raw.hset('versions:workers', 'old', JSON.stringify(beat));
    await raw.hset(
      'versions:heartbeats',
      'new',
      JSON.stringify({ ...beat, id: 'new', version: '9.0.0', shoe: 1 }),
    );
    const worker = await testWorker(redis.url, { prefix: 'versions' });
    await until('it is left', () => worker.lines.some(({ code }) => code === 'PS_VERSION'));
    await expect(client.status('newer')).rejects.toMatchObject({ code: 'PS_VERSION' });
    await expect(client.submit(document)).rejects.toMatchObject({ code: 'PS_VERSION' });
    await new Promise((resolve) => setTimeout(resolve, 1_500));
    const { workers } = await client.service();
    expect(workers.map(({ version }) => version).sort()).toEqual(['0.1.0', '0.1.0', '9.0.0']);
    expect(JSON.parse((await raw.hget('versions:heartbeats', 'new')) ?? '')).toHaveProperty('shoe');
    expect(await raw.hget('versions:store:b-newer', 'state')).toBe('waiting');
    // What version 0.1.0 reads has no field it does not know: it would delete it.
    const first = JSON.parse((await raw.hget('versions:workers', worker.id)) ?? '') as object;
    expect(Object.keys(first).sort()).toEqual(Object.keys(beat).sort());
    await worker.stop();
    await client.close();
  });
});

describe.concurrent('a process that stands still', () => {
  it('is found by worker --check though another one of this machine lives', async () => {
    const [one, two] = await Promise.all([started('check'), started('check')]);
    const check = async (): Promise<number | null> => {
      const cli = new ShopProcess(process.execPath, [MAIN, 'worker', '--check'], {
        REDIS_URL: redis.url,
        PAIRSTOP_PREFIX: 'check',
      });
      await until('it answers', () => cli.exited, 90_000);
      return cli.exitCode;
    };
    expect(await check()).toBe(0);
    one.signal('SIGSTOP');
    await until('it is missed', async () => (await check()) === 1, 90_000);
    one.signal('SIGCONT');
    await until('it is back', async () => (await check()) === 0, 90_000);
    // One that was killed is not alive until its heartbeat has run out.
    await Promise.all([one.end('SIGKILL'), two.end('SIGKILL')]);
    expect(await check()).toBe(1);
  });

  // By itself: a frozen idle solver was given the plan to put together, for up to 300 s.
  it('and is a solver is replaced, and another takes its task', async () => {
    const worker = await testWorker(redis.url, { prefix: 'frozen', nowSlots: 1 });
    const client = testClient(redis, 'frozen');
    for (const pid of worker.solvers()) process.kill(pid, 'SIGSTOP');
    await client.submit(batchOf('frozen', ['ash'], { timeLimit: 60 }));
    expect((await client.result('frozen', { wait: 90_000 })).status).toBe('complete');
    await client.close();
    await worker.stop();
  });
});

describe.concurrent('--out', () => {
  // By itself: a device, a pipe and a link became a regular file, and 0644 became another mode.
  it('keeps the mode of a file, the link that leads to it, and what is no file', async () => {
    const at = (name: string): string => join(folder.path, name);
    writeFileSync(at('plan.json'), 'old');
    execFileSync('chmod', ['0640', at('plan.json')]);
    mkdirSync(at('links'));
    symlinkSync('../plan.json', at('links/plan.json'));
    symlinkSync('new.json', at('links/hanging'));
    const text = '{"new": true}\n';
    for (const name of ['links/plan.json', 'links/hanging', 'fresh.json']) await writeOutput(at(name), text);
    expect(readFileSync(at('plan.json'), 'utf8')).toBe(text);
    expect(statSync(at('plan.json')).mode & 0o777).toBe(0o640);
    expect(lstatSync(at('links/plan.json')).isSymbolicLink()).toBe(true);
    expect(readFileSync(at('links/new.json'), 'utf8')).toBe(text);
    expect(existsSync(at('fresh.json'))).toBe(true);
    await writeOutput('/dev/null', text);
    expect(lstatSync('/dev/null').isCharacterDevice()).toBe(true);
    execFileSync('mkfifo', [at('pipe')]);
    const reader = new ShopProcess('sh', ['-c', `cat "${at('pipe')}"`], {});
    await writeOutput(at('pipe'), text);
    await until('it is read', () => reader.exited);
    expect(reader.lines).toEqual([{ new: true }]);
    expect(lstatSync(at('pipe')).isFIFO()).toBe(true);
    symlinkSync('round', at('round'));
    await expect(writeOutput(at('round'), text)).rejects.toMatchObject({ code: 'PS_FILE' });
    const ended = await runCli(['plan', DEMO, '--out', at('links/plan.json')]);
    expect(ended.code).toBe(0);
    expect(lstatSync(at('links/plan.json')).isSymbolicLink()).toBe(true);
  });
});

describe.concurrent('what status prints', () => {
  it('moves no cursor and is no flood, whatever lies in the records', async () => {
    const client = testClient(redis, 'escape');
    await client.submit(batchOf('tampered', ['ash']));
    const evil = `\u001b[2J\u0007\r\u009b${'x'.repeat(1_000_000)}`;
    await raw.hset('escape:store:b-tampered', 'id', evil);
    await raw.lpush(
      'escape:errors',
      JSON.stringify({
        at: 1,
        worker: evil,
        code: evil,
        message: evil.slice(0, 300),
        batch: evil,
        moulding: null,
      }),
    );
    for (const args of [['status', 'tampered'], ['status'], ['status', '--json']]) {
      const cli = new ShopProcess('sh', ['-c', `"${process.execPath}" "${MAIN}" ${args.join(' ')} >&2`], {
        REDIS_URL: redis.url,
        PAIRSTOP_PREFIX: 'escape',
      });
      await until('it has printed', () => cli.exited, 90_000);
      expect(cli.err).not.toMatch(/(?![\n\t])\p{Cc}/u);
      if (!args.includes('--json')) expect(cli.err.length).toBeLessThan(10_000);
    }
    await client.close();
  });
});
