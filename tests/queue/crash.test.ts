/**
 * What happens when workers die, freeze or lose Redis. Each row of the measured facts about the queue is a test here:
 * how the library behaves by itself is in the comment, what the service makes of it in the test.
 */
import type { Redis } from 'ioredis';
import { describe, expect, it, vi } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Client } from '../../src/queue/client/client.js';
import { jobIdOf } from '../../src/queue/names.js';
import { batchOf } from '../tools/batches.js';
import { Killable } from '../tools/killable.js';
import { TestRedis } from '../tools/redis.js';
import {
  childrenOf,
  isAlive,
  type LogLine,
  type TestSettings,
  testClient,
  testWorker,
  until,
} from '../tools/service.js';

// Most of it is waiting; on a loaded machine processes are slow to start.
vi.setConfig({ testTimeout: 120_000 });

const WAIT = { wait: 50_000 };

/** A Redis, a client and workers of one test: the tests run side by side, since most of each is waiting. */
class Scene {
  readonly redis: TestRedis;
  readonly client: Client;
  readonly #raw: Redis;
  readonly #killable: Killable[] = [];

  private constructor(redis: TestRedis) {
    this.redis = redis;
    this.#raw = redis.connect();
    this.client = testClient(redis, 'pairstop', 20_000);
  }

  static readonly during = async (work: (scene: Scene) => Promise<void>): Promise<void> => {
    // By itself Redis may answer before it writes, while the disk is busy: what is lost then is not what is tested here.
    const scene = new Scene(await TestRedis.start({ args: ['--appendfsync', 'always'] }));
    try {
      await work(scene);
    } finally {
      await scene.#end();
    }
  };

  readonly started = async (settings: TestSettings = {}): Promise<Killable> => {
    const worker = await Killable.start(this.redis.url, settings);
    this.#killable.push(worker);
    return worker;
  };

  readonly field = (id: string, name: string): Promise<string | null> =>
    this.#raw.hget(`pairstop:store:${jobIdOf(id)}`, name);

  /** What a batch has come to: its plan's faults, and how often one was published. */
  readonly outcome = async (document: BatchDocument): Promise<{ faults: number; published: number }> => {
    const plan = await this.client.result(document.id, WAIT);
    const { total } = checkPlan(checkBatch(document), plan);
    return { faults: total, published: Number(await this.field(document.id, 'published')) };
  };

  readonly begun = async (id: string, times = 1): Promise<boolean> =>
    Number(await this.field(id, 'n:0')) >= times;

  async #end(): Promise<void> {
    const solvers = this.#killable.flatMap(({ pid }) => childrenOf(pid));
    for (const worker of this.#killable) worker.signal('SIGCONT');
    await Promise.all(this.#killable.map((worker) => worker.end()));
    await until('no solver is left', () => !solvers.some(isAlive), 30_000);
    await this.client.close();
    this.#raw.disconnect();
    await this.redis.end();
  }
}

const { during } = Scene;
const ONE_PLAN = { faults: 0, published: 1 };

function resumedAt({ lines }: Killable, moulding: string): LogLine | undefined {
  return lines.find((line) => line.msg === 'moulding begun' && line.moulding === moulding);
}

describe('a worker that is killed', () => {
  // By itself: restarted after the lock has run out, completed once, work run twice.
  it.concurrent('leaves no process behind, and its batch goes on elsewhere from the checkpoint', () =>
    during(async ({ started, client, field, outcome }) => {
      const document = batchOf('killed', ['exit-once', 'ash']);
      const slow = batchOf('killed-slow', ['wait-20000'], { timeLimit: 60 });
      const first = await started();
      await client.submit(slow);
      await until('a checkpoint is stored', async () => (await field('killed-slow', 'b:0')) !== null);
      const solvers = childrenOf(first.pid);
      expect(solvers.length).toBeGreaterThan(0);
      await first.end('SIGKILL');
      await until('its solvers are gone', () => !solvers.some(isAlive), 10_000);
      const second = await started();
      await until('the batch is begun again', async () => (await field('killed-slow', 'n:0')) === '2');
      const resumed = () => resumedAt(second, 'wait-20000');
      await until('it is in hand', () => resumed() !== undefined);
      // From where it was, with what is left of its time.
      expect(resumed()).toMatchObject({ resumed: true });
      expect(Number(resumed()?.seconds)).toBeLessThan(60);
      await client.cancel('killed-slow');
      await client.submit(document);
      expect(await outcome(document)).toEqual(ONE_PLAN);
    }));

  // By itself: with the library's default the second kill fails the job for good, whatever its attempts.
  it.concurrent('again and again, still ends with one plan', () =>
    during(async ({ started, client, begun, outcome }) => {
      const document = batchOf('killed-often', ['wait-2500'], { timeLimit: 30 });
      await client.submit(document);
      for (let times = 1; times <= 3; times++) {
        const worker = await started();
        await until(`attempt ${times}`, () => begun('killed-often', times));
        await worker.end('SIGKILL');
      }
      await started();
      expect(await outcome(document)).toEqual(ONE_PLAN);
    }));

  it.concurrent('between any two steps loses nothing: six kills at moments apart', () =>
    during(async ({ started, client, outcome }) => {
      const document = batchOf('killed-anywhere', ['ash', 'oak', 'wait-100', 'elm']);
      const moments = [5, 40, 80, 120, 200, 300];
      await client.submit(document);
      for (const moment of moments) {
        const worker = await started({ nowSlots: 1 });
        await new Promise((resolve) => setTimeout(resolve, moment));
        await worker.end('SIGKILL');
        if ((await client.status('killed-anywhere')).state === 'done') break;
      }
      await started();
      expect(await outcome(document)).toEqual(ONE_PLAN);
    }));
});

describe('a worker that is stopped past its lock', () => {
  // By itself: its stale result is rejected, the second worker's stays.
  it.concurrent('and then goes on, overwrites nothing', () =>
    during(async ({ started, client, field, begun, outcome }) => {
      const document = batchOf('frozen', ['wait-1500'], { timeLimit: 60 });
      const frozen = await started();
      await client.submit(document);
      await until('it has begun', () => begun('frozen'));
      frozen.signal('SIGSTOP');
      await started();
      expect(await outcome(document)).toEqual(ONE_PLAN);
      const plan = await field('frozen', 'plan');
      expect(await begun('frozen', 2)).toBe(true);
      frozen.signal('SIGCONT');
      await new Promise((resolve) => setTimeout(resolve, 3_000));
      expect(await field('frozen', 'plan')).toBe(plan);
      expect(await field('frozen', 'p:0')).toBeNull();
      expect(await field('frozen', 'published')).toBe('1');
      expect((await client.status('frozen')).state).toBe('done');
    }));
});

describe('Redis killed and started again', () => {
  // By itself: a finished result was thrown away, and the whole solve run again.
  it.concurrent('longer than the lock, at the end of a solve, costs no finished work', () =>
    during(async ({ redis, client, begun, outcome }) => {
      const worker = await testWorker(redis.url);
      try {
        const document = batchOf('outage-long', ['wait-1500']);
        await client.submit(document);
        await until('it has begun', () => begun('outage-long'));
        await redis.down();
        await new Promise((resolve) => setTimeout(resolve, 4_000));
        await redis.up();
        expect(await outcome(document)).toEqual(ONE_PLAN);
        expect(worker.begun('wait-1500')).toBe(1);
      } finally {
        await worker.stop();
      }
    }));

  // By itself: with a lock longer than the outage, completed and not run again.
  it.concurrent('shorter than the lock, is hardly noticed', () =>
    during(async ({ redis, client, begun, outcome }) => {
      const worker = await testWorker(redis.url, { timing: { lock: 20_000 } });
      try {
        const document = batchOf('outage-short', ['wait-1200']);
        await client.submit(document);
        await until('it has begun', () => begun('outage-short'));
        await redis.down();
        await new Promise((resolve) => setTimeout(resolve, 1_500));
        await redis.up();
        expect(await outcome(document)).toEqual(ONE_PLAN);
        expect(worker.begun('wait-1200')).toBe(1);
        // One line when it goes and one when it is back, not one for each attempt to reach it.
        const told = worker.lines.filter(({ msg }) => msg === 'Redis is away');
        expect(told).toHaveLength(1);
        const back = (): number => worker.lines.filter(({ msg }) => msg === 'Redis serves again').length;
        await until('it is told that it is back', () => back() === 1);
      } finally {
        await worker.stop();
      }
    }));

  it.concurrent('keeps what was submitted, finished and stored before', () =>
    during(async ({ redis, client, outcome }) => {
      const document = batchOf('kept', ['ash']);
      await client.submit(document);
      await redis.down();
      await redis.up();
      const worker = await testWorker(redis.url);
      try {
        expect(await outcome(document)).toEqual(ONE_PLAN);
        await redis.down();
        await redis.up();
        expect(await outcome(document)).toEqual(ONE_PLAN);
        expect(worker.begun('ash')).toBe(1);
      } finally {
        await worker.stop();
      }
    }));
});

describe('a worker that is told to stop', () => {
  // As measured: abort, store the checkpoint, hand the job back; the next one resumes, no attempt is spent.
  it.concurrent('hands its work back at once, and the next goes on from the checkpoint', () =>
    during(async ({ started, client, field }) => {
      const document = batchOf('stopped', ['exit-once', 'wait-8000'], { timeLimit: 60 });
      const first = await started({ nowSlots: 2, timing: { lock: 60_000, stalledCheck: 30_000 } });
      await client.submit(document);
      await until('the slow one has begun', async () => Number(await field('stopped', 'n:1')) === 1);
      await until('its checkpoint is stored', async () => (await field('stopped', 'b:1')) !== null);
      const solvers = childrenOf(first.pid);
      await first.end('SIGTERM');
      expect(first.exitCode).toBe(0);
      expect(solvers.filter(isAlive)).toEqual([]);
      // The lock of a minute has not run out: only a job handed back can be taken this soon.
      const second = await started();
      const resumed = () => resumedAt(second, 'wait-8000');
      await until('it is taken again', () => resumed() !== undefined, 15_000);
      expect(resumed()).toMatchObject({ resumed: true, attempt: 1 });
    }));

  it.concurrent('also ends when Redis is away', () =>
    during(async ({ redis, started, client, begun }) => {
      const worker = await started();
      await client.submit(batchOf('stopped-alone', ['wait-20000']));
      await until('it has begun', () => begun('stopped-alone'));
      await redis.down();
      const told = performance.now();
      await worker.end('SIGTERM');
      expect(worker.exitCode).toBe(0);
      expect(performance.now() - told).toBeLessThan(10_000);
      await redis.up();
    }));
});
