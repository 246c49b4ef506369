/**
 * Many batches while workers and Redis are killed at random moments, from a seed. Afterwards every batch must have
 * exactly one plan, the same as without trouble, and no process may be left.
 */

import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planBatchHere } from '../../src/plan/here.js';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { jobIdOf } from '../../src/queue/names.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { batchOf } from '../../tests/tools/batches.js';
import { Killable } from '../../tests/tools/killable.js';
import { TestRedis } from '../../tests/tools/redis.js';
import { childrenOf, isAlive, until } from '../../tests/tools/service.js';
import { type Random, seeded } from './random.js';

export interface SoakSettings {
  readonly seed: string;
  readonly batches: number;
  readonly kills: number;
  readonly workers: number;
}

export interface SoakResult {
  readonly batches: number;
  readonly kills: readonly string[];
  /** Without a plan in the end. */
  readonly lost: number;
  /** Published other than once. */
  readonly notOnce: number;
  /** Plans that fail the check, or differ from the plan made without trouble. */
  readonly wrong: number;
  /** Processes alive afterwards. */
  readonly left: number;
  readonly seconds: number;
}

const LONGEST_MS = 120_000;
const LEFT_MS = 5_000;

function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

function documents(random: Random, { seed, batches }: SoakSettings): BatchDocument[] {
  const mouldings = ['ash', 'oak', 'elm', 'wait-50', 'wait-200', 'wait-600'];
  return Array.from({ length: batches }, (_, i) => {
    const from = random.int(0, mouldings.length - 1);
    const chosen = Array.from(
      { length: random.int(1, 3) },
      (_, k) => mouldings[(from + k) % mouldings.length]!,
    );
    return batchOf(`${seed} ${i}`, chosen, { frames: random.int(1, 3), timeLimit: 60 });
  });
}

class Trouble {
  readonly kills: string[] = [];
  readonly #workers: Killable[] = [];
  readonly #solvers = new Set<number>();

  constructor(
    readonly random: Random,
    readonly redis: TestRedis,
  ) {}

  async start(count: number): Promise<void> {
    for (let i = 0; i < count; i++) this.#workers.push(await Killable.start(this.redis.url));
  }

  async one(): Promise<void> {
    const { random } = this;
    const at = random.int(0, this.#workers.length - 1);
    const worker = this.#workers[at]!;
    for (const pid of childrenOf(worker.pid)) this.#solvers.add(pid);
    const kind = random.pick(['worker', 'worker', 'redis', 'freeze'] as const);
    this.kills.push(kind);
    switch (kind) {
      case 'worker':
        await worker.end('SIGKILL');
        this.#workers[at] = await Killable.start(this.redis.url);
        return;
      case 'redis':
        await this.redis.down();
        await sleep(random.int(0, 2_500));
        await this.redis.up();
        return;
      case 'freeze':
        worker.signal('SIGSTOP');
        await sleep(random.int(500, 3_000));
        worker.signal('SIGCONT');
        return;
      default:
        kind satisfies never;
    }
  }

  /** Ends all processes; returns how many are left. */
  async end(): Promise<number> {
    for (const worker of this.#workers) for (const pid of childrenOf(worker.pid)) this.#solvers.add(pid);
    await Promise.all(this.#workers.map((worker) => worker.end('SIGTERM')));
    const all = [...this.#solvers, ...this.#workers.map(({ pid }) => pid)];
    await until('all processes are gone', () => !all.some(isAlive), LEFT_MS).catch(() => {});
    return all.filter(isAlive).length;
  }
}

async function judge(client: Client, redis: TestRedis, engine: Engine, document: BatchDocument) {
  const verdict = { lost: 0, notOnce: 0, wrong: 0 };
  const plan = await client.result(document.id, { wait: LONGEST_MS }).catch(() => null);
  if (plan === null) return { ...verdict, lost: 1 };
  const batch = checkBatch(document);
  const expected = planBatchHere(batch, engine, { now: () => performance.now() });
  const raw = redis.connect();
  const published = await raw.hget(`pairstop:store:${jobIdOf(document.id)}`, 'published');
  raw.disconnect();
  const same = JSON.stringify(plan) === JSON.stringify(expected);
  return { lost: 0, notOnce: published === '1' ? 0 : 1, wrong: same && checkPlan(batch, plan).ok ? 0 : 1 };
}

export async function soak(settings: SoakSettings): Promise<SoakResult> {
  const random = seeded(settings.seed);
  const began = performance.now();
  const redis = await TestRedis.start();
  const client = createClient({ connection: redis.url, patience: 30_000 });
  const trouble = new Trouble(random, redis);
  const engine = await createEngine();
  try {
    await trouble.start(settings.workers);
    const all = documents(random, settings);
    const submitting = (async () => {
      for (const document of all) {
        await client.submit(document);
        await sleep(random.int(0, 60));
      }
    })();
    for (let i = 0; i < settings.kills; i++) {
      await sleep(random.int(50, 900));
      await trouble.one();
    }
    await submitting;
    const sum = { lost: 0, notOnce: 0, wrong: 0 };
    for (const document of all) {
      const verdict = await judge(client, redis, engine, document);
      sum.lost += verdict.lost;
      sum.notOnce += verdict.notOnce;
      sum.wrong += verdict.wrong;
    }
    await client.close();
    const left = await trouble.end();
    const seconds = (performance.now() - began) / 1_000;
    return { batches: all.length, kills: trouble.kills, ...sum, left, seconds };
  } finally {
    await client.close();
    await trouble.end();
    await redis.end();
  }
}
