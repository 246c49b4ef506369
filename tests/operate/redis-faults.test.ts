/** Faults of Redis and of the way to it, each with real servers; the tests wait side by side. */
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { createClient } from '../../src/queue/client/client.js';
import { Session } from '../../src/queue/client/session.js';
import { type Purged, purgeBatch } from '../../src/queue/client/upkeep.js';
import { jobIdOf } from '../../src/queue/names.js';
import { batchOf } from '../tools/batches.js';
import { SilentProxy } from '../tools/proxy.js';
import { TestRedis } from '../tools/redis.js';
import { testClient, testWorker, until } from '../tools/service.js';
import { shopBatch } from '../tools/shop.js';
import { ShopProcess } from '../tools/shop-process.js';

const READY = 'worker ready';
/** Unmended, the silent connection took 213 s; on a loaded machine some of what is waited for is slow. */
const WAIT = { wait: 100_000 };

// Most of it is waiting; on a loaded machine processes are slow to start.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

let redis: TestRedis;

beforeAll(async () => {
  redis = await TestRedis.start();
});

afterAll(async () => {
  await ShopProcess.endAll();
  await redis.end();
});

async function startedAt(url: string, env: Readonly<Record<string, string>> = {}): Promise<ShopProcess> {
  const worker = ShopProcess.worker(url, env);
  await until('it serves', () => worker.said(READY).length > 0, 90_000);
  return worker;
}

// A door killed in the middle of a round found its queue refusing for ever: the outage had met the queue's first question.
it('a queue that an outage met as it was made gives way to one that serves', async () => {
  const session = new Session({
    connection: redis.url,
    prefix: 'pairstop',
    patience: 10_000,
    retention: 86_400_000,
  });
  try {
    await session.ask('asking', () => session.redis.ping());
    const met = session.queue('batch-now');
    session.redis.disconnect(true);
    await expect(met.waitUntilReady()).rejects.toThrow(/writeable|closed|max retries/i);
    const counts = await session.ask('counting', () => session.queue('batch-now').getJobCounts('wait'));
    expect(counts).toEqual({ wait: 0 });
  } finally {
    await session.close();
  }
});

describe.concurrent('a connection that falls silent', () => {
  // By itself: 213 s without plan, log line or reconnect, while a new client worked at once.
  it('is dropped by worker and client, and told once', async () => {
    const own = await TestRedis.start();
    const proxy = await SilentProxy.to(own.port);
    const worker = await startedAt(proxy.url);
    const client = createClient({ connection: proxy.url });
    const direct = testClient(own);
    await client.service();
    proxy.silence();
    await direct.submit(batchOf('silent', ['ash']));
    const [plan] = await Promise.all([direct.result('silent', WAIT), client.result('silent', WAIT)]);
    expect(plan.status).toBe('complete');
    await until('it is told that it is over', () => worker.said('Redis serves again').length === 1);
    expect(worker.said('Redis does not answer')).toHaveLength(1);
    await client.close();
    await direct.close();
    expect(await worker.end('SIGTERM')).toBeLessThan(10_000);
    await proxy.end();
    await own.end();
  });
});

describe.concurrent('a database', () => {
  // By itself: silently database 0, where another shop may be.
  it('that does not exist is refused by worker and client, and nothing is written elsewhere', async () => {
    const own = await TestRedis.start();
    const worker = ShopProcess.worker(`${own.url}/99`, { PAIRSTOP_START_WAIT: '30' });
    await until('it ends', () => worker.exited, 90_000);
    expect(worker.exitCode).toBe(1);
    expect(worker.err).toMatch(/PS_REDIS_SETUP: .*database/);
    const client = createClient({ connection: `${own.url}/99`, patience: 20_000 });
    await expect(client.submit(batchOf('lost', ['ash']))).rejects.toMatchObject({ code: 'PS_REDIS_SETUP' });
    await client.close();
    const raw = own.connect();
    expect(await raw.keys('*')).toEqual([]);
    raw.disconnect();
    await own.end();
  });

  // By itself: the channel is shared by all databases, and a word on it ended work, or left a batch waiting for ever.
  it('or anybody who says that a batch is cancelled does not end it: the record decides', async () => {
    const worker = await testWorker(redis.url, { prefix: 'trust', nowSlots: 1 });
    const client = testClient(redis, 'trust');
    const raw = redis.connect();
    await raw.select(1);
    const say = setInterval(() => void raw.publish('trust:cancelled', 'b-said').catch(() => {}), 5);
    await client.submit(batchOf('said', ['wait-1500', 'ash']));
    expect((await client.result('said', WAIT)).status).toBe('complete');
    clearInterval(say);
    expect(worker.begun('wait-1500')).toBe(1);
    raw.disconnect();
    await client.close();
    await worker.stop();
  });
});

describe.concurrent('outages', () => {
  // By itself: no line at all for a full or silent one, 177 lines in 25 s for a changed password.
  it('of each kind are told once when they begin and once when they end, by the right word', async () => {
    const own = await TestRedis.start();
    const raw = own.connect();
    const pid = Number(/process_id:(\d+)/.exec(await raw.info('server'))?.[1]);
    const worker = await startedAt(own.url);
    const client = testClient(own, 'pairstop', 8_000);
    const over = (times: number): Promise<void> =>
      until(`outage ${times} is over`, () => worker.said('Redis serves again').length === times, 90_000);

    await client.submit(
      batchOf('waits', ['ash'], { notBefore: new Date(Date.now() + 3_600_000).toISOString() }),
    );
    await client.rack.add([{ id: 'r1', moulding: 'ash', length: 2_000_000 }]);
    for (const id of ['holds', 'holds-too']) {
      await client.submit(shopBatch(id, ['ash']));
      await client.result(id, WAIT);
    }
    await raw.config('SET', 'maxmemory', '1');
    await until('full is told', () => worker.lines.some(({ trouble }) => trouble === 'full'), 90_000);
    await expect(client.submit(batchOf('full', ['ash']))).rejects.toMatchObject({
      code: 'PS_REDIS',
      message: expect.stringMatching(/^Redis is full/) as string,
    });
    // What frees memory is not refused. The first of what is written of one that holds pieces takes memory.
    for (const id of ['waits', 'holds', 'holds-too']) expect(await client.cancel(id)).toBe('cancelled');
    const session = new Session({
      connection: own.url,
      prefix: 'pairstop',
      patience: 8_000,
      retention: 86_400_000,
    });
    const purge = (): Promise<Purged> => purgeBatch(session.store, session.queues, jobIdOf('holds'), 'tests');
    expect(await session.ask('forgetting', purge)).toBe('purged');
    await session.close();
    // By itself: a worker that was started now ended at once.
    const late = ShopProcess.worker(own.url);
    await until('the late one tells it', () => late.lines.some(({ trouble }) => trouble === 'full'), 90_000);
    await raw.config('SET', 'maxmemory', '0');
    await over(1);
    await until('the late one serves', () => late.said(READY).length > 0, 90_000);
    expect(await late.end('SIGTERM')).toBeLessThan(10_000);

    process.kill(pid, 'SIGSTOP');
    await until('silence is told', () => worker.lines.some(({ trouble }) => trouble === 'silent'), 90_000);
    process.kill(pid, 'SIGCONT');
    await over(2);

    await raw.config('SET', 'requirepass', 'changed');
    await raw.call('CLIENT', 'KILL', 'TYPE', 'normal', 'SKIPME', 'yes');
    await until(
      'the refusal is told',
      () => worker.lines.some(({ trouble }) => trouble === 'refusing'),
      20_000,
    );
    await new Promise((resolve) => setTimeout(resolve, 6_000));
    const begun = worker.lines.filter(
      ({ trouble, msg }) => trouble !== undefined && msg.startsWith('Redis '),
    );
    const begins = begun.filter(({ msg }) => msg !== 'Redis serves again');
    expect(begins).toHaveLength(3);
    expect(worker.lines.filter(({ level }) => level >= 40)).toHaveLength(3);
    expect(await worker.end('SIGTERM')).toBeLessThan(10_000);
    raw.disconnect();
    await client.close();
    await own.end();
  });
});

describe.concurrent('what Redis refuses', () => {
  it('by rights is told with the right that is missing, and no server error reaches a caller raw', async () => {
    const own = await TestRedis.start({ args: ['--rename-command', 'TIME', '""'] });
    const raw = own.connect();
    await raw.call('ACL', 'SETUSER', 'weak', 'on', '>word', '~*', '&*', '+@all', '-evalsha', '-eval');
    const weak = createClient({ connection: own.url.replace('//', '//weak:word@'), patience: 5_000 });
    await expect(weak.submit(batchOf('weak', ['ash']))).rejects.toMatchObject({
      code: 'PS_REDIS',
      message: expect.stringMatching(/right it needs.*evalsha/) as string,
    });
    const worker = ShopProcess.worker(own.url.replace('//', '//weak:word@'));
    await until('it ends', () => worker.exited, 90_000);
    expect(worker.err).toMatch(/PS_REDIS/);
    expect(worker.err).not.toMatch(/PS_INTERNAL/);
    const client = testClient(own);
    await expect(client.service()).rejects.toMatchObject({ code: 'PS_REDIS' });
    await client.close();
    await weak.close();
    raw.disconnect();
    await own.end();
  });

  it('is not the number of first calls at once', async () => {
    const warnings: string[] = [];
    const hear = (warning: Error): void => {
      warnings.push(warning.message);
    };
    process.on('warning', hear);
    const client = testClient(redis, 'many');
    await Promise.all(Array.from({ length: 40 }, (_, i) => client.status(`none-${i}`).catch(() => null)));
    await client.close();
    process.off('warning', hear);
    expect(warnings).toEqual([]);
  });
});
