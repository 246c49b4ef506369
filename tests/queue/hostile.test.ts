import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { catalogue } from '../../src/errors.js';
import { seal } from '../../src/processes/seal.js';
import type { Client } from '../../src/queue/client/client.js';
import { jobIdOf, keysOf } from '../../src/queue/names.js';
import { Store } from '../../src/queue/record/store.js';
import { batchOf } from '../tools/batches.js';
import { hostilePayload, nested } from '../tools/hostile.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testClient, testWorker, until } from '../tools/service.js';

const WAIT = { wait: 40_000 };
const PAYLOAD_MOST = 2_000_000;
const COUNT = 250;

let redis: TestRedis;
let raw: Redis;
let worker: TestWorker;
let client: Client;
let batches: Queue;
let parts: Queue;

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
  worker = await testWorker(redis.url, { nowSlots: 1, payload: PAYLOAD_MOST });
  client = testClient(redis);
  batches = new Queue('batch-now', { connection: raw, prefix: 'pairstop' });
  parts = new Queue('part-now', { connection: raw, prefix: 'pairstop' });
});

afterAll(async () => {
  await Promise.all([batches.close(), parts.close()]);
  await client.close();
  await worker.stop();
  raw.disconnect();
  await redis.end();
});

const CODES = Object.keys(catalogue).join('|');
const CATALOGUED = new RegExp(`^(${CODES}): \\S`);

async function ended(queue: Queue, ids: readonly string[], ms = 50_000): Promise<void> {
  await until(
    'all have ended',
    async () => {
      const { wait = 0, active = 0, delayed = 0 } = await queue.getJobCounts('wait', 'active', 'delayed');
      return wait + active + delayed === 0;
    },
    ms,
  );
  expect(ids.length).toBeGreaterThan(0);
}

async function reasons(queue: Queue, ids: readonly string[]): Promise<(readonly [string, string])[]> {
  const found: (readonly [string, string])[] = [];
  for (const id of ids) {
    const job = await queue.getJob(id);
    found.push([(await job?.getState()) ?? 'gone', job?.failedReason ?? '']);
  }
  return found;
}

describe('what strangers put on the queues', () => {
  it('each ends as a failed job with a catalogued error, and the worker lives on', async () => {
    const random = seeded('hostile payloads');
    const ids: string[] = [];
    for (let i = 0; i < COUNT; i++) {
      const jobId = `stranger-${i}`;
      const name = random.pick(['batch', 'batch', 'batch', 'other', '']);
      await batches.add(name, hostilePayload(random, `hostile-${i}`), {
        jobId,
        attempts: random.pick([1, 3, 1_000_000]),
      });
      ids.push(jobId);
    }
    await ended(batches, ids);
    for (const [state, reason] of await reasons(batches, ids)) {
      expect(state).toBe('failed');
      expect(reason).toMatch(CATALOGUED);
      expect(reason).not.toMatch(/^PS_(INTERNAL|SOLVER)/);
      expect(reason.length).toBeLessThanOrEqual(1_000);
    }
    await client.submit(batchOf('after-strangers', ['ash']));
    expect((await client.result('after-strangers', WAIT)).status).toBe('complete');
  }, 120_000);

  it('on the queue of mouldings likewise', async () => {
    const random = seeded('hostile parts');
    await client.submit(batchOf('of-others', ['ash']));
    await client.result('of-others', WAIT);
    const sound = {
      schema: 'pairstop/part@1',
      batch: jobIdOf('of-others'),
      run: 1,
      fingerprint: 'f'.repeat(64),
      index: 0,
      moulding: 'ash',
    };
    const ids: string[] = [];
    for (let i = 0; i < 150; i++) {
      const payload = random.pick<unknown>([
        null,
        'text',
        {},
        { ...sound, index: -1 },
        { ...sound, index: 7.5 },
        { ...sound, batch: 'b-nobody' },
        { ...sound, fingerprint: 'short' },
        { ...sound, moulding: 'x'.repeat(9_000) },
        nested(500),
      ]);
      const jobId = `stranger-part-${i}`;
      await parts.add(random.pick(['part', 'part', 'solve']), payload, { jobId });
      ids.push(jobId);
    }
    await ended(parts, ids);
    for (const [state, reason] of await reasons(parts, ids)) {
      expect(state).toBe('failed');
      expect(reason).toMatch(CATALOGUED);
    }
    expect(await raw.hget(`pairstop:store:${jobIdOf('of-others')}`, 'published')).toBe('1');
  });

  it('larger than is allowed, or not JSON at all, never reaches a parser of the worker', async () => {
    const ids = ['huge', 'garbage', 'deep'];
    for (const id of ids) await batches.add('batch', { later: true }, { jobId: id, delay: 3_600_000 });
    const huge = JSON.stringify({ schema: 'pairstop/job@1', batch: 'z'.repeat(PAYLOAD_MOST) });
    await raw.hset('pairstop:batch-now:huge', 'data', huge);
    await raw.hset('pairstop:batch-now:garbage', 'data', '{"schema":\u0000');
    await raw.hset('pairstop:batch-now:deep', 'data', '['.repeat(1_500_000));
    const move =
      "redis.call('ZREM', KEYS[1], ARGV[1]) redis.call('LPUSH', KEYS[2], ARGV[1]) redis.call('ZADD', KEYS[3], 0, '0')";
    const keys = ['delayed', 'wait', 'marker'].map((name) => `pairstop:batch-now:${name}`);
    for (const id of ids) await raw.eval(move, keys.length, ...keys, id);
    await ended(batches, ids);
    const texts = await Promise.all(ids.map((id) => raw.hget(`pairstop:batch-now:${id}`, 'failedReason')));
    expect(texts[0]).toMatch(/^PS_PAYLOAD: a payload of 2000\d+ characters; allowed: at most 2000000/);
    expect(texts[1]).toMatch(/^PS_JSON: /);
    expect(texts[2]).toMatch(/^PS_JSON: .*deeper nesting/s);
  });

  it('as a program in another language would put it there, is served like any other', async () => {
    const document = batchOf('foreign', ['ash']);
    const payload = { schema: 'pairstop/job@1', batch: document };
    await batches.add('batch', payload, { jobId: jobIdOf('foreign') });
    expect(
      (
        await client.result('foreign', WAIT).catch(async () => {
          await until('it is known', async () => (await client.status('foreign').catch(() => null)) !== null);
          return client.result('foreign', WAIT);
        })
      ).status,
    ).toBe('complete');
    // Added again it runs nothing; submitted by the client it is the same job.
    await batches.add('batch', payload, { jobId: jobIdOf('foreign') });
    expect(await client.submit(document)).toMatchObject({ outcome: 'same', state: 'done' });
    expect(await raw.hget(`pairstop:store:${jobIdOf('foreign')}`, 'published')).toBe('1');
  });
});

describe('a record that is not what it should be', () => {
  const key = (id: string): string => `pairstop:store:${jobIdOf(id)}`;

  it('is an error, not a plan: damaged, cut, of another batch, of another kind', async () => {
    for (const id of ['mine', 'yours']) {
      await client.submit(batchOf(id, ['ash']));
      await client.result(id, WAIT);
    }
    const plan = (await raw.hgetBuffer(key('mine'), 'plan'))!;
    const print = (await raw.hget(key('mine'), 'fingerprint'))!;
    const damaged = Buffer.from(plan);
    damaged[60]! ^= 0x10;
    const records = [
      damaged,
      plan.subarray(0, 50),
      Buffer.alloc(0),
      Buffer.from('{"schema":"pairstop/plan@1"}'),
      (await raw.hgetBuffer(key('yours'), 'plan'))!,
      seal({ kind: 'part', batch: print, moulding: 'ash' }, '{}'),
      seal({ kind: 'plan', batch: print, moulding: '' }, '{"schema":"pairstop/plan@1"}'),
      seal({ kind: 'plan', batch: print, moulding: '' }, 'nonsense'),
    ];
    for (const record of records) {
      await raw.hset(key('mine'), 'plan', record);
      await expect(client.result('mine')).rejects.toMatchObject({
        code: expect.stringMatching(/^PS_(STORE|PLAN|JSON)$/) as string,
      });
    }
    await raw.hset(key('mine'), 'plan', plan);
    expect((await client.result('mine')).batch).toBe('mine');
    await raw.hset(key('mine'), 'state', 'splendid');
    await expect(client.status('mine')).rejects.toMatchObject({ code: 'PS_STORE' });
  });

  it('of a moulding fails its batch, and a damaged checkpoint only costs its head start', async () => {
    const document = batchOf('spoiled', ['ash', 'wait-2000'], {});
    await client.submit(document);
    await until('the first part is there', async () => (await raw.hget(key('spoiled'), 'r:0')) !== null);
    await raw.hset(key('spoiled'), 'p:0', seal({ kind: 'part', batch: 'x', moulding: 'ash' }, '{}'));
    await expect(client.result('spoiled', WAIT)).rejects.toMatchObject({ code: 'PS_STORE' });

    await client.submit(batchOf('resumed', ['wait-1000']));
    await until('a checkpoint is there', async () => (await raw.hget(key('resumed'), 'b:0')) !== null);
    await raw.hset(key('resumed'), 'b:0', 'rubbish', 'g:0', 'rubbish');
    expect((await client.result('resumed', WAIT)).status).toBe('complete');
  });
});

describe('the fence', () => {
  it('lets only the newest attempt write, and only the first plan be published', async () => {
    const store = new Store(raw, keysOf('fence-shop'), 1_000_000);
    const identity = { id: 'b', fingerprint: 'f'.repeat(64), urgency: 'now' } as const;
    const content = {
      sealed: Buffer.from('batch'),
      mouldings: ['ash'],
      limit: 10_000,
      expected: { each: [], small: false },
      shop: false,
    };
    const figures = {
      proof: { status: 'optimal', measure: 'cost', value: 1, bound: 1 },
      frames: 1,
      ordered: 1,
    } as const;
    const part = (text: string) => ({ moulding: 'ash', sealed: Buffer.from(text), ...figures });
    const plan = (text: string) => ({ sealed: Buffer.from(text), status: 'complete', cost: 1 });

    const first = await store.enter('job', identity, 1, content);
    const second = await store.enter('job', identity, 1, null);
    expect([first, second]).toMatchObject([
      { kind: 'go', run: 1, fence: 1 },
      { kind: 'go', run: 1, fence: 2 },
    ]);
    const [old, young] = [
      await store.attempts.begin('job', 0, 1, 'ash'),
      await store.attempts.begin('job', 0, 1, 'ash'),
    ];
    expect([old, young]).toMatchObject([{ fence: 1 }, { fence: 2 }]);
    const attempt = (fence: number) => ({ jobId: 'job', index: 0, run: 1, fence });

    expect(await store.attempts.beat(attempt(1), 'ash', 5, null, part('old'))).toEqual({ kind: 'stale' });
    expect(await store.attempts.beat(attempt(2), 'ash', 5, figures, part('young'))).toEqual({ kind: 'go' });
    // What an attempt thought dead has finished is not thrown away: the living one takes it.
    expect(await store.attempts.finish(attempt(1), part('late'), 5)).toBe('stale');
    expect(await store.attempts.beat(attempt(2), 'ash', 5, null, null)).toMatchObject({
      kind: 'late',
      part: { sealed: Buffer.from('late') },
    });
    expect(await store.attempts.finish(attempt(2), part('final'), 5)).toBe('stored');
    expect(await store.attempts.finish(attempt(2), part('twice'), 5)).toBe('exists');
    expect(await store.attempts.finish(attempt(1), part('later'), 5)).toBe('exists');

    expect(await store.publish('job', 1, 1, plan('old'))).toEqual({ kind: 'stale' });
    expect(await store.publish('job', 1, 2, plan('new'))).toEqual({ kind: 'published' });
    expect(await store.publish('job', 1, 2, plan('again'))).toEqual({ kind: 'ended' });
    // The plan holds what its parts did: they are not kept beside it.
    expect((await store.read('job', ['p:0', 'plan', 'published'])).map(String)).toEqual([
      'undefined',
      'new',
      '1',
    ]);
    expect(await store.cancel('job', 'tests')).toEqual({ kind: 'state', state: 'done' });
  });

  it('counts the time of attempts that died only up to their last sign of life', async () => {
    const store = new Store(raw, keysOf('clock-shop'), 1_000_000);
    const identity = { id: 'b', fingerprint: 'f'.repeat(64), urgency: 'now' } as const;
    await store.enter('job', identity, 1, {
      sealed: Buffer.from('x'),
      mouldings: ['a', 'b'],
      limit: 10_000,
      expected: { each: [], small: false },
      shop: false,
    });
    await store.attempts.begin('job', 0, 1, 'a');
    const attempt = { jobId: 'job', index: 0, run: 1, fence: 1 };
    await new Promise((resolve) => setTimeout(resolve, 300));
    await store.attempts.beat(attempt, 'a', 5_000, null, null);
    await new Promise((resolve) => setTimeout(resolve, 1_000));
    const again = await store.attempts.begin('job', 0, 1, 'a');
    expect(again).toMatchObject({
      kind: 'go',
      fence: 2,
      allotted: 5_000,
      size: 2,
      limit: 10_000,
      shop: false,
    });
    const used = again.kind === 'go' ? again.used : 0;
    expect(used).toBeGreaterThanOrEqual(250);
    expect(used).toBeLessThan(1_200);
  });

  it('counts the time of an attempt from when it has read the batch', async () => {
    const store = new Store(raw, keysOf('reading-shop'), 1_000_000);
    const identity = { id: 'b', fingerprint: 'f'.repeat(64), urgency: 'now' } as const;
    await store.enter('job', identity, 1, {
      sealed: Buffer.from('x'),
      mouldings: ['a', 'b'],
      limit: 10_000,
      expected: { each: [], small: false },
      shop: false,
    });
    await store.attempts.begin('job', 0, 1, 'a');
    const attempt = { jobId: 'job', index: 0, run: 1, fence: 1 };
    await new Promise((resolve) => setTimeout(resolve, 1_500));
    await store.attempts.clock({ ...attempt, fence: 7 });
    const before = Number(String((await store.read('job', ['openSum']))[0]));
    const asked = performance.now();
    await store.attempts.clock(attempt);
    const after = Number(String((await store.read('job', ['openSum']))[0]));
    expect(after - before).toBeGreaterThanOrEqual(1_400);
    const other = await store.attempts.begin('job', 1, 1, 'b');
    // In whole milliseconds of Redis's clock.
    expect(other.kind === 'go' && other.spent).toBeLessThanOrEqual(performance.now() - asked + 100);
  });
});
