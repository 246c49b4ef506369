/** Who is planned first: small orders pass by long ones, batches share the slots, and nothing waits for ever. */
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { expectedTimes } from '../../src/processes/expected.js';
import type { Client } from '../../src/queue/client/client.js';
import { rankAt, ranksOf } from '../../src/queue/worker/rank.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testClient, testWorker, until } from '../tools/service.js';

// On a loaded machine solvers, which let others go first, are slow.
vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

/** Order lines from which on a moulding counts as one that may take long. */
const LONG = 100;
let redis: TestRedis;

beforeAll(async () => {
  redis = await TestRedis.start();
});

afterAll(() => redis.end());

async function during(
  prefix: string,
  nowSlots: number,
  work: (client: Client, worker: TestWorker) => Promise<void>,
): Promise<void> {
  const worker = await testWorker(redis.url, { prefix, nowSlots });
  const client = testClient(redis, prefix);
  try {
    await work(client, worker);
  } finally {
    await client.close();
    await worker.stop();
  }
}

const begun = ({ lines }: TestWorker): string[] =>
  lines.flatMap(({ msg, batch }) => (msg === 'moulding begun' && batch !== undefined ? [batch] : []));

describe('a small order', () => {
  it('has its plan while long ones hold every slot and more wait', async () => {
    await during('long', 2, async (client, worker) => {
      const long = ['one', 'two', 'three'];
      for (const id of long) {
        await client.submit(batchOf(id, ['hang', 'hang-too'], { frames: LONG, timeLimit: 150 }));
      }
      await until('both slots are taken', () => begun(worker).length === 2, 90_000);
      for (const id of ['counter', 'counter two']) {
        await client.submit(batchOf(id, ['ash'], { frames: 8 }));
        expect((await client.result(id, { wait: 150_000 })).status).toBe('complete');
      }
      for (const id of long) expect((await client.status(id)).finished).toBeNull();
      for (const id of long) await client.cancel(id);
    });
  });

  it('passes by a batch of many mouldings', async () => {
    await during('many', 1, async (client, worker) => {
      const mouldings = Array.from({ length: 60 }, (_, i) => `wait-100-${i}`);
      await client.submit(batchOf('many', mouldings));
      await until('some are planned', () => begun(worker).length > 3, 90_000);
      await client.submit(batchOf('counter', ['ash'], { frames: 8 }));
      await client.result('counter', { wait: 150_000 });
      const { state, progress } = await client.status('many');
      expect(state).toBe('running');
      expect(progress?.mouldings.done).toBeLessThan(progress?.mouldings.total ?? 0);
      await client.cancel('many');
    });
  });

  it('that takes long after all gives way to others, and goes on from its best plan', async () => {
    await during('crowd', 1, async (client, worker) => {
      for (const id of ['slow-1', 'slow-2']) await client.submit(batchOf(id, ['hang'], { timeLimit: 150 }));
      await until('both are begun', () => begun(worker).length === 2, 90_000);
      await client.submit(batchOf('counter', ['ash'], { frames: 8 }));
      await client.result('counter', { wait: 150_000 });
      for (const id of ['slow-1', 'slow-2']) expect((await client.status(id)).state).toBe('running');
      expect(worker.lines.some(({ msg }) => msg.startsWith('moulding takes longer than expected'))).toBe(
        true,
      );
      await until(
        'it goes on',
        () => worker.lines.some(({ msg, resumed }) => msg === 'moulding begun' && resumed === true),
        90_000,
      );
      for (const id of ['slow-1', 'slow-2']) await client.cancel(id);
    });
  });

  it('takes the common queue while a worker of an older version serves it', async () => {
    const raw = redis.connect();
    const now = Date.now();
    const old = { id: 'old', host: 'elsewhere', pid: 1, at: now + 60_000, started: now, every: 5_000 };
    const rest = { slots: { now: 1, tonight: 0 }, running: [], done: 0, failed: 0, memory: 1 };
    await raw.hset('older:workers', 'old', JSON.stringify({ ...old, ...rest }));
    await during('older', 1, async (client) => {
      await client.submit(batchOf('counter', ['ash'], { frames: 8 }));
      expect((await client.result('counter', { wait: 150_000 })).status).toBe('complete');
    });
    expect(await raw.exists('older:part-small:events')).toBe(0);
    expect(await raw.exists('older:part-now:events')).toBe(1);
    raw.disconnect();
  });
});

describe('long batches', () => {
  it('come by when they would be done on an idle service: earlier work first, later work never before', async () => {
    await during('ranks', 1, async (client, worker) => {
      const long = (id: string, timeLimit: number) => batchOf(id, ['wait-50'], { frames: LONG, timeLimit });
      await client.submit(batchOf('first', ['hang'], { frames: LONG, timeLimit: 150 }));
      await until('the slot is taken', () => begun(worker).length === 1, 90_000);
      await client.submit(long('long', 4));
      await client.submit(long('less', 1));
      await new Promise((resolve) => setTimeout(resolve, 4_200));
      await client.submit(long('late', 1));
      await until(
        'all three wait',
        async () => (await client.service()).queues.now.mouldings.waiting === 3,
        90_000,
      );
      const raw = redis.connect();
      const order = await raw.zrange('ranks:part-now:prioritized', '0', '-1');
      expect(order).toEqual(['b-less.1.0', 'b-long.1.0', 'b-late.1.0']);
      raw.disconnect();
      for (const id of ['first', 'long', 'less', 'late']) await client.cancel(id);
    });
  });

  it('have ranks that share the slots, and are overtaken only by what arrives in time', () => {
    const random = seeded('ranks');
    for (let i = 0; i < 200; i++) {
      const limit = random.int(1_000, 600_000);
      const slots = random.int(1, 8);
      const each = Array.from({ length: random.int(1, 40) }, () => random.int(1, limit));
      const from = random.int(0, 1e9);
      const arrived = from + random.int(0, 1e8);
      const expected = { each, small: false };
      const open = each.map((_, index) => index);
      const ranks = ranksOf({ limit, arrived, expected }, open, { from, now: arrived, slots });
      expect(ranks).toEqual([...ranks].sort((a, b) => a - b));
      // What arrives after this batch's own time limit is never before any of it.
      expect(ranks.at(-1)).toBeLessThanOrEqual(rankAt(arrived + limit + 1_000, from));
      expect(ranks[0]).toBeGreaterThanOrEqual(rankAt(arrived, from));
      const later = { limit, arrived: arrived + limit + 2_000, expected };
      expect(ranksOf(later, open, { from, now: 0, slots })[0]).toBeGreaterThanOrEqual(ranks.at(-1)!);
    }
    expect(rankAt(2 ** 50, 0)).toBe(2 ** 21);
  });

  it('are told from small ones by their size, whatever they cost', () => {
    const times = (document: ReturnType<typeof batchOf>, work: 'plan' | 'compare' = 'plan') =>
      expectedTimes(
        checkBatch(document),
        work,
        document.mouldings.map(({ id }) => id),
        20_000,
      );
    expect(times(batchOf('a', ['ash'], { frames: 8 })).small).toBe(true);
    expect(times(batchOf('a', ['ash'], { frames: LONG })).small).toBe(false);
    expect(times(batchOf('a', ['ash'], { frames: 8 }), 'compare').small).toBe(false);
    expect(
      times(
        batchOf(
          'a',
          Array.from({ length: 200 }, (_, i) => `m${i}`),
        ),
      ).small,
    ).toBe(false);
    const priced = { ...batchOf('a', ['ash'], { frames: 8 }), labour: { rate: 30 } };
    expect(times(priced)).toEqual({ each: [20_000], small: true });
  });
});
