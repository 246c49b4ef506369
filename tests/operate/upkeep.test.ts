/** What whoever runs the service is told and can do: metrics, health, retry, purge, audit, export and import. */
import { writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { join } from 'node:path';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { Client } from '../../src/queue/client/client.js';
import { Session } from '../../src/queue/client/session.js';
import { exportShop, importShop } from '../../src/queue/client/shop.js';
import { auditTrail } from '../../src/queue/client/upkeep.js';
import { startTracing } from '../../src/queue/health/tracing.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testClient, testWorker, until } from '../tools/service.js';
import { MAIN, ShopProcess, TempFolder } from '../tools/shop-process.js';

let redis: TestRedis;
let raw: Redis;
let client: Client;
let worker: TestWorker;

vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

const WAIT = { wait: 90_000 };

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
  client = testClient(redis);
  worker = await testWorker(redis.url, { attempts: 1, http: { host: '127.0.0.1', port: 0 } });
});

afterAll(async () => {
  await ShopProcess.endAll();
  await worker.stop();
  await client.close();
  raw.disconnect();
  await redis.end();
});

const get = async (path: string): Promise<{ status: number; text: string }> => {
  const response = await fetch(`http://127.0.0.1:${worker.port}${path}`);
  return { status: response.status, text: await response.text() };
};

function sessionAt(url: string, prefix: string): Session {
  return new Session({ connection: url, prefix, patience: 10_000, retention: 60_000, who: 'tests' });
}

async function cli(args: readonly string[]): Promise<{ code: number | null; text: string }> {
  const command = [process.execPath, MAIN, ...args].map((arg) => `'${arg}'`).join(' ');
  const one = new ShopProcess('sh', ['-c', `${command} >&2`], {
    REDIS_URL: redis.url,
    PAIRSTOP_WHO: 'the office',
  });
  await until('it ends', () => one.exited, 60_000);
  return { code: one.exitCode, text: one.err };
}

describe('a worker and its upkeep', () => {
  it('over HTTP counts what it has done, and says that it lives and is ready', async () => {
    await client.submit(batchOf('counted', ['ash', 'oak']));
    await client.submit(batchOf('poisoned', ['exit']));
    expect((await client.result('counted', WAIT)).status).toBe('complete');
    await expect(client.result('poisoned', WAIT)).rejects.toMatchObject({ code: 'PS_FAILED' });
    expect(await get('/live')).toMatchObject({ status: 200 });
    expect(await get('/ready')).toMatchObject({ status: 200 });
    expect((await get('/nothing')).status).toBe(404);
    const { text } = await get('/metrics');
    const value = (name: string): number =>
      Number(new RegExp(`^${name.replace(/[{}]/g, '\\$&')} (.+)$`, 'm').exec(text)?.[1]);
    expect(value('pairstop_batches_total{outcome="complete"}')).toBe(1);
    expect(value('pairstop_batches_total{outcome="failed"}')).toBe(1);
    // Told before there was one: the first is to be seen as a rise.
    expect(value('pairstop_batches_total{outcome="cancelled"}')).toBe(0);
    expect(value('pairstop_mouldings_total{outcome="optimal"}')).toBe(2);
    expect(value('pairstop_mouldings_total{outcome="failed"}')).toBe(1);
    expect(value('pairstop_solve_seconds_count{urgency="now"}')).toBe(2);
    expect(value('pairstop_assemble_seconds_count{urgency="now"}')).toBe(1);
    expect(value('pairstop_redis_up')).toBe(1);
    expect(value('pairstop_workers{state="living"}')).toBe(1);
    expect(value('pairstop_queue_jobs{urgency="now",kind="batches",state="failed"}')).toBe(1);
    expect(value('pairstop_solver_deaths_total')).toBe(1);
    expect(value('pairstop_log_lines_dropped_total')).toBe(0);
    const done = worker.lines.find(({ msg, moulding }) => msg === 'moulding done' && moulding === 'ash');
    expect(done).toHaveProperty('seconds');
  });

  it('is not ready while Redis is away, and alive all the same', async () => {
    await redis.down();
    await until('it says so', async () => (await get('/ready')).status === 503);
    expect((await get('/live')).status).toBe(200);
    expect((await get('/metrics')).text).toMatch(/^pairstop_redis_up 0$/m);
    await redis.up();
    await until('it is back', async () => (await get('/ready')).status === 200, 60_000);
  });

  it('tries again, purges, counts no cancelled moulding as failed, and tells who did what', async () => {
    await client.submit(batchOf('again', ['exit']));
    await expect(client.result('again', WAIT)).rejects.toMatchObject({ code: 'PS_FAILED' });
    expect(await cli(['retry', 'again'])).toMatchObject({ code: 0, text: 'again: waiting (again)\n' });
    await until('it has failed again', async () => (await client.status('again')).state === 'failed', 60_000);
    expect((await cli(['retry', 'counted'])).code).toBe(1);

    await client.submit(batchOf('stopped', ['wait-20000']));
    await until('it runs', () => worker.begun('wait-20000') === 1, 60_000);
    expect((await cli(['purge', 'stopped'])).text).toMatch(/running, kept; cancel it first/);
    const before = (await client.service()).queues.now.mouldings.failed;
    expect(await client.cancel('stopped')).toBe('cancelled');
    await until(
      'it is let go',
      async () => (await client.service()).queues.now.mouldings.active === 0,
      60_000,
    );
    expect((await client.service()).queues.now.mouldings.failed).toBe(before);

    const purged = await cli(['purge', 'again', 'stopped', '--failed-jobs']);
    expect(purged.code).toBe(0);
    await expect(client.status('again')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
    expect((await client.service()).queues.now.batches.failed).toBe(0);
    expect(await raw.exists('pairstop:batch-now:b-again')).toBe(0);

    const session = sessionAt(redis.url, 'pairstop');
    const trail = await session.ask('reading', () => auditTrail(session.redis, session.keys, 10, 'again'));
    expect(trail.map(({ what }) => what)).toEqual(['purged', 'submitted again', 'submitted']);
    expect(trail[0]?.who).toBe('the office');
    expect((await cli(['audit', 'again', '--limit', '1'])).text).toMatch(
      / purged again, run 2 by the office\n$/,
    );
    expect((await cli(['workers'])).text).toMatch(/^workers alive: 1\n.*version 0\.\d+\.\d+: slots 1 now/);
    await session.close();
  });

  it('tells who revised a batch and who changed the rack', async () => {
    await client.submit(batchOf('changed', ['ash']));
    await client.result('changed', WAIT);
    await client.submit(batchOf('changed', ['ash'], { frames: 3 }), { replace: true });
    await client.rack.add([{ id: 'told', moulding: 'ash', length: 2_000_000 }], { who: 'the saw' });
    const { text } = await cli(['audit', '--limit', '3']);
    expect(text).toMatch(
      / rack added told by the saw\n.* revised changed, run 2 by .*\n.* submitted changed by /,
    );
    await client.result('changed', WAIT);
  });
});

describe.concurrent('a shop', () => {
  it('is carried elsewhere: plans as they are, unfinished batches on the queue again', async () => {
    const from = sessionAt(redis.url, 'from');
    const old = testClient(redis, 'from');
    const first = await testWorker(redis.url, { prefix: 'from', nowSlots: 1 });
    await old.submit(batchOf('done', ['ash']));
    await old.result('done', WAIT);
    await old.submit(batchOf('begun', ['wait-1500']));
    await until('it has begun', () => first.begun('wait-1500') === 1, 60_000);
    await first.stop();
    await old.submit(batchOf('untouched', ['oak']));
    const lines: string[] = [];
    await from.ask('exporting', async () => {
      for await (const line of exportShop(from)) lines.push(line);
    });
    const text = lines.join('');
    const to = sessionAt(redis.url, 'to');
    const client2 = testClient(redis, 'to');
    await expect(importShop(to, client2, text.replace('store:b-done', 'store:b-gone'))).rejects.toMatchObject(
      {
        code: 'PS_FILE',
      },
    );
    await expect(importShop(to, client2, lines.slice(0, -1).join(''))).rejects.toMatchObject({
      code: 'PS_FILE',
    });
    expect(await importShop(to, client2, text)).toMatchObject({ unfinished: 2 });
    await expect(importShop(to, client2, text)).rejects.toMatchObject({ code: 'PS_CONFLICT' });
    expect(await client2.result('done')).toEqual(await old.result('done'));
    const second = await testWorker(redis.url, { prefix: 'to' });
    for (const document of [batchOf('begun', ['wait-1500']), batchOf('untouched', ['oak'])]) {
      const plan = await client2.result(document.id, WAIT);
      expect(checkPlan(checkBatch(document), plan).total).toBe(0);
    }
    await second.stop();
    for (const one of [from, to, old, client2]) await one.close();
  });
});

interface Span {
  readonly name: string;
  readonly traceId: string;
  readonly spanId: string;
  readonly parentSpanId?: string;
}

/** As OTLP's JSON has them (OpenTelemetry protocol, ExportTraceServiceRequest). */
interface ExportRequest {
  readonly resourceSpans: readonly { readonly scopeSpans: readonly { readonly spans: readonly Span[] }[] }[];
}

describe.concurrent('traces', () => {
  it('join submitting, solving and assembling of a batch in one, where a collector is configured', async () => {
    expect(await startTracing({})).toBeNull();
    const spans: Span[] = [];
    const collector = createServer((request, response) => {
      let text = '';
      request.on('data', (chunk: Buffer) => {
        text += chunk.toString();
      });
      request.on('end', () => {
        expect(request.url).toBe('/v1/traces');
        const { resourceSpans } = JSON.parse(text) as ExportRequest;
        for (const { scopeSpans } of resourceSpans) for (const one of scopeSpans) spans.push(...one.spans);
        response.end('{}');
      });
    });
    await new Promise<void>((resolve) => collector.listen(0, '127.0.0.1', resolve));
    const address = collector.address();
    const port = address !== null && typeof address === 'object' ? address.port : 0;
    const env = {
      PAIRSTOP_PREFIX: 'traced',
      OTEL_EXPORTER_OTLP_ENDPOINT: `http://127.0.0.1:${port}`,
      OTEL_BSP_SCHEDULE_DELAY: '200',
    };
    const traced = ShopProcess.worker(redis.url, env);
    const folder = new TempFolder();
    const path = join(folder.path, 'traced.json');
    writeFileSync(path, JSON.stringify(batchOf('traced', ['ash', 'oak'])));
    const submitting = new ShopProcess(process.execPath, [MAIN, 'submit', '--wait', path], {
      REDIS_URL: redis.url,
      ...env,
    });
    await until('it has its plan', () => submitting.exited, 90_000);
    expect(submitting.exitCode).toBe(0);
    await until('all has come', () => spans.some(({ name }) => name === 'assemble'), 60_000);
    await traced.end('SIGTERM');
    const [assemble] = spans.filter(({ name }) => name === 'assemble');
    const whole = spans.filter(({ traceId }) => traceId === assemble?.traceId);
    const ids = new Map(whole.map((span) => [span.spanId, span]));
    const wayOf = (span: Span): string[] => {
      const parent = ids.get(span.parentSpanId ?? '');
      return [...(parent === undefined ? [] : wayOf(parent)), span.name];
    };
    expect(wayOf(assemble!)).toEqual(['add batch-now.batch', 'process batch-now', 'assemble']);
    const solves = whole.filter(({ name }) => name === 'solve').map(wayOf);
    expect(solves).toHaveLength(2);
    for (const way of solves) {
      expect(way[0]).toBe('add batch-now.batch');
      expect(way).toContain('process batch-now');
      expect(way.slice(-2)).toEqual(['process part-small', 'solve']);
    }
    collector.close();
    folder.remove();
  });
});
