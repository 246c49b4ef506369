import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { Client } from '../../src/queue/client/client.js';
import { jobIdOf } from '../../src/queue/names.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { isAlive, type TestWorker, testClient, testWorker, until } from '../tools/service.js';

const WAIT = { wait: 40_000 };
/** The figures promised are measured in bench/; here what hangs for ever must end on a loaded machine too. */
const LOADED = 8_000;

let redis: TestRedis;
let raw: Redis;
let worker: TestWorker;
let client: Client;

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
  worker = await testWorker(redis.url, { nowSlots: 2, heapMb: 96, rssMb: 450 });
  client = testClient(redis);
});

afterAll(async () => {
  await client.close();
  const solvers = worker.solvers();
  await worker.stop();
  raw.disconnect();
  await redis.end();
  if (solvers.some(isAlive)) throw new Error('solver processes are left');
});

function field(id: string, name: string): Promise<string | null> {
  return raw.hget(`pairstop:store:${jobIdOf(id)}`, name);
}

async function solving(id: string): Promise<void> {
  await until(`${id} is being solved`, async () => Number(await field(id, 'n:0')) > 0);
}

describe('cancelling', () => {
  it('ends a synchronous solve in its middle, from another connection', async () => {
    await client.submit(batchOf('cancel-running', ['mute', 'ash'], { timeLimit: 600 }));
    await until(
      'a checkpoint of the other moulding',
      async () => (await field('cancel-running', 'r:1')) !== null,
    );
    const busy = worker.solvers();
    const other = testClient(redis);
    const told = performance.now();
    expect(await other.cancel('cancel-running')).toBe('cancelled');
    await until('the solver is gone', () => busy.some((pid) => !isAlive(pid)), LOADED);
    expect(performance.now() - told).toBeLessThan(LOADED);
    expect(await other.status('cancel-running')).toMatchObject({ state: 'cancelled' });
    await expect(other.result('cancel-running')).rejects.toMatchObject({ code: 'PS_CANCELLED' });
    await other.close();
  });

  it('reaches a solve whose worker did not hear of it', async () => {
    await client.submit(batchOf('cancel-unheard', ['mute'], { timeLimit: 600 }));
    await solving('cancel-unheard');
    // The state alone, as if the message had been lost: the next beat finds it.
    await raw.hset(`pairstop:store:${jobIdOf('cancel-unheard')}`, 'state', 'cancelled');
    const over = (): boolean =>
      worker.lines.some(
        (line) => line.batch === jobIdOf('cancel-unheard') && line.msg.startsWith('moulding ended'),
      );
    await until('the moulding has ended', over, LOADED);
  });

  it('ends what waits, before anything of it is begun', async () => {
    const notBefore = new Date(Date.now() + 60_000).toISOString();
    await client.submit(batchOf('cancel-waiting', ['elm'], { notBefore }));
    expect(await client.cancel('cancel-waiting')).toBe('cancelled');
    const { now } = (await client.service()).queues;
    expect(now.batches.delayed).toBe(0);
    expect(worker.begun('elm')).toBe(0);
  });

  it('comes too late for what is done, and a cancelled batch may be submitted again', async () => {
    const document = batchOf('cancel-late', ['ash']);
    await client.submit(document);
    await client.result('cancel-late', WAIT);
    expect(await client.cancel('cancel-late')).toBe('done');
    const other = batchOf('cancel-again', ['wait-1000']);
    await client.submit(other);
    await client.cancel('cancel-again');
    expect(await client.submit(other)).toMatchObject({ outcome: 'again', state: 'waiting' });
    expect((await client.result('cancel-again', WAIT)).status).toBe('complete');
    expect(await field('cancel-again', 'published')).toBe('1');
  });
});

describe('the time limit', () => {
  it('is kept though the library never returns: the best plan so far is published', async () => {
    const document = batchOf('limit-hang', ['hang'], { timeLimit: 3 });
    await client.submit(document);
    const plan = await client.result('limit-hang', WAIT);
    const { started, finished } = await client.status('limit-hang');
    expect((finished ?? 0) - (started ?? 0)).toBeLessThan(3_000 + LOADED);
    expect((finished ?? 0) - (started ?? 0)).toBeGreaterThanOrEqual(3_000);
    expect(checkPlan(checkBatch(document), plan).ok).toBe(true);
    expect(worker.lines.some(({ msg }) => msg.includes('did not stop at the time limit'))).toBe(true);
  });

  it('passed without any plan gives the plan that first fits, and says that it is unproven', async () => {
    const document = batchOf('limit-mute', ['mute'], { timeLimit: 1 });
    await client.submit(document);
    const plan = await client.result('limit-mute', WAIT);
    expect(plan.mouldings[0]?.proof).toMatchObject({ status: 'unproven', bound: 0 });
    expect(checkPlan(checkBatch(document), plan).ok).toBe(true);
  });
});

describe('a poison job', () => {
  it.each([
    ['exit', /code 7/],
    ['memory', /its heap outgrew 96 MB|more than 450 MB/],
    ['off-heap', /more than 450 MB/],
  ])(
    '(%s) fails with its reason after bounded attempts, and the worker lives on',
    async (moulding, reason) => {
      await client.submit(batchOf(`poison-${moulding}`, [moulding], { timeLimit: 600 }));
      await expect(client.result(`poison-${moulding}`, WAIT)).rejects.toMatchObject({
        code: 'PS_FAILED',
        message: expect.stringMatching(reason) as string,
      });
      expect(worker.begun(moulding)).toBe(3);
      expect((await client.service()).workers).toHaveLength(1);
      await client.submit(batchOf(`after-${moulding}`, ['ash']));
      expect((await client.result(`after-${moulding}`, WAIT)).status).toBe('complete');
    },
  );

  it('whose solver dies once is resumed from its checkpoint', async () => {
    await client.submit(batchOf('poison-once', ['exit-once']));
    expect((await client.result('poison-once', WAIT)).status).toBe('complete');
    const begun = worker.lines.filter(
      (line) => line.batch === jobIdOf('poison-once') && line.msg === 'moulding begun',
    );
    expect(begun.map(({ attempt, resumed }) => [attempt, resumed])).toEqual([
      [1, false],
      [2, true],
    ]);
  });
});
