/** The pool as a state machine against a real Redis: random steps of clients and workers, and what must hold after each. */
import fc from 'fast-check';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { jobIdOf, keysOf } from '../../src/queue/names.js';
import type { CancelAnswer } from '../../src/queue/record/steps.js';
import { Store } from '../../src/queue/record/store.js';
import { TestRedis } from '../tools/redis.js';

let redis: TestRedis;
let raw: Redis;
let shops = 0;

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
});

afterAll(async () => {
  raw.disconnect();
  await redis.end();
});

const IDS = ['a', 'b', 'c', 'd'] as const;
type Id = (typeof IDS)[number];

/** Where a batch is; a night by its number of closing. */
interface Known {
  readonly content: string;
  readonly at: 'pool' | 'night' | 'done' | 'failed' | 'cancelled';
  readonly night: string | null;
}

interface Model {
  readonly batches: Map<Id, Known>;
  /** In the order of arrival. */
  pool: Id[];
  /** Job id → its batches, until it ends. */
  readonly nights: Map<string, readonly Id[]>;
  /** Every night a batch has been in, in one content: it must never be in two. */
  readonly been: Map<string, string>;
}

interface Real {
  readonly store: Store;
}

type Step = fc.AsyncCommand<Model, Real>;
const step = (text: string, run: (model: Model, real: Real) => Promise<void>): Step => ({
  check: () => true,
  run,
  toString: () => text,
});

async function holds({ batches, pool, nights }: Model, { store }: Real): Promise<void> {
  const state = await store.night.state();
  expect(state.waiting).toEqual(pool.map((id) => jobIdOf(id)));
  expect(state.closes === null).toBe(pool.length === 0);
  expect([...(await store.night.open())].sort()).toEqual([...nights.keys()].sort());
  for (const [id, { at, night }] of batches) {
    const [real, inPool, inNight] = await store.read(jobIdOf(id), ['state', 'pool', 'night']);
    const due = { pool: 'waiting', night: 'running', done: 'done', failed: 'failed', cancelled: 'cancelled' }[
      at
    ];
    expect([id, real?.toString()]).toEqual([id, due]);
    expect([id, inPool !== undefined]).toEqual([id, at === 'pool']);
    if (at === 'night' || at === 'done') expect([id, inNight?.toString()]).toEqual([id, night]);
  }
}

const submit = (id: Id, content: string, replace: boolean): Step =>
  step(`submit ${id} ${content}${replace ? ' --replace' : ''}`, async (model, real) => {
    const identity = { id, fingerprint: content, urgency: 'now' } as const;
    const pool = { sealed: Buffer.from(content), closes: 1 };
    const { outcome } = await real.store.claim(jobIdOf(id), identity, 'tests', { replace, pool });
    const known = model.batches.get(id);
    const ended = known?.at === 'failed' || known?.at === 'cancelled';
    const same = known?.content === content;
    const free = known === undefined || ended || (replace && known.at === 'pool');
    if (known === undefined) expect(outcome).toBe('new');
    else if (same) expect(outcome).toBe(ended ? 'again' : 'same');
    else expect(outcome).toBe(free ? 'replaced' : replace ? 'night' : 'other');
    if (outcome === 'new' || outcome === 'again' || outcome === 'replaced') {
      model.pool = [...model.pool.filter((one) => one !== id), id];
      model.batches.set(id, { content, at: 'pool', night: null });
    }
    await holds(model, real);
  });

/** A batch leaves its night, which is as if it had just closed with the others, also where it had its plan. */
function leave(model: Model, id: Id, night: string): number {
  const members = [...model.batches].filter(
    ([, { at, night: own }]) => own === night && (at === 'night' || at === 'done'),
  );
  for (const [one, known] of members) {
    model.been.delete(`${one} ${known.content}`);
    if (one === id) model.batches.set(one, { ...known, at: 'cancelled', night: null });
    else model.batches.set(one, { ...known, at: 'night' });
  }
  const rest = members.flatMap(([one]) => (one === id ? [] : [one]));
  if (rest.length > 0) model.nights.set(night, rest);
  else model.nights.delete(night);
  return rest.length;
}

/** A worker puts a night together from the batches it knew in it. */
async function composed(real: Real, jobId: string, members: readonly Id[]): Promise<string> {
  const content = {
    sealed: Buffer.from('x'),
    mouldings: ['m'],
    limit: 1,
    shop: false,
    expected: { each: [1], small: true },
  };
  const part = { jobId, id: jobId.slice(2), fingerprint: 'made', urgency: 'now', content } as const;
  const jobs = members.map((id) => jobIdOf(id));
  return (await real.store.night.compose(jobId, [{ ...part, members: jobs }])).kind;
}

async function made(real: Real, jobId: string, members: readonly Id[]): Promise<void> {
  const both = await Promise.all([1, 2].map(() => composed(real, jobId, members)));
  expect(both.sort()).not.toEqual(['made', 'made']);
}

const cancel = (id: Id, replan: boolean): Step =>
  step(`cancel ${id}${replan ? ' --replan' : ''}`, async (model, real) => {
    const known = model.batches.get(id);
    const night = known?.at === 'night' ? known.night! : null;
    // A worker puts the night together at that moment, before it or after.
    const making = night === null ? 'none' : composed(real, night, model.nights.get(night)!);
    const answers = await Promise.all([1, 2].map(() => real.store.cancel(jobIdOf(id), 'tests', replan)));
    expect(['none', 'made', 'made before', 'changed', 'ended']).toContain(await making);
    const [answer, again] = answers.sort((a) => (a.kind === 'left' ? -1 : 1)) as [CancelAnswer, CancelAnswer];
    if (known === undefined) expect(answer.kind).toBe('unknown');
    else if (known.at === 'night' || (known.at === 'done' && replan)) {
      const left = leave(model, id, known.night!);
      expect(answer).toMatchObject({ kind: 'left', night: { jobId: known.night }, left });
      expect(again).toEqual({ kind: 'state', state: 'cancelled' });
      // Nothing of the night with it is left.
      const [batch, plan] = await real.store.read(known.night!, ['batch', 'plan']);
      if (left > 0) expect([batch, plan]).toEqual([undefined, undefined]);
    } else if (known.at === 'done') expect(answer.kind).toBe('night');
    else if (known.at === 'pool') {
      expect(answer).toEqual({ kind: 'state', state: 'cancelled' });
      model.pool = model.pool.filter((one) => one !== id);
      model.batches.set(id, { ...known, at: 'cancelled' });
    } else expect(answer).toEqual({ kind: 'state', state: known.at });
    await holds(model, real);
  });

const close = (early: boolean): Step =>
  step(`close${early ? '' : ' when due'}`, async (model, real) => {
    // Everybody closes at once: a client, its double, and the sweep.
    const all = await Promise.all([1, 2, 3].map(() => real.store.night.close(early, 'tests')));
    const closed = all.flatMap((one) => (one.kind === 'closed' ? [one] : []));
    expect(closed.length).toBe(model.pool.length > 0 ? 1 : 0);
    for (const { jobId, batches } of closed) {
      expect(batches).toBe(model.pool.length);
      for (const id of model.pool) {
        const known = model.batches.get(id)!;
        model.batches.set(id, { ...known, at: 'night', night: jobId });
      }
      model.nights.set(jobId, model.pool);
      model.pool = [];
    }
    await holds(model, real);
  });

const end = (how: 'done' | 'failed' | 'cancelled'): Step =>
  step(`a night is ${how}`, async (model, real) => {
    const [night] = model.nights;
    if (night === undefined) return;
    const [jobId, members] = night;
    await made(real, jobId, members);
    if (how === 'done') {
      const entry = await real.store.enter(jobId, { id: '', fingerprint: 'made', urgency: 'now' }, 1, null);
      if (entry.kind !== 'go') throw new Error(`it is ${entry.kind}`);
      const plan = { sealed: Buffer.from('plan'), status: 'complete', cost: 2 };
      const outcomes = Object.fromEntries(members.map((id) => [jobIdOf(id), ['complete', 1] as const]));
      const twice = [1, 2].map(() => real.store.publish(jobId, entry.run, entry.fence, plan, null, outcomes));
      const published = await Promise.all(twice);
      expect(published.map(({ kind }) => kind).sort()).toEqual(['ended', 'published']);
    } else if (how === 'failed') await real.store.failBatch(jobId, null, '{"code":"PS_FAILED"}', null);
    else await real.store.cancel(jobId, 'tests');
    for (const id of members) {
      const known = model.batches.get(id)!;
      model.batches.set(id, { ...known, at: how });
      if (how !== 'done') continue;
      const key = `${id} ${known.content}`;
      expect(model.been.has(key)).toBe(false);
      model.been.set(key, jobId);
    }
    model.nights.delete(jobId);
    await holds(model, real);
  });

const anyId = fc.constantFrom(...IDS);
const commands: fc.Arbitrary<Step>[] = [
  fc.tuple(anyId, fc.constantFrom('one', 'two'), fc.boolean()).map((given) => submit(...given)),
  fc.tuple(anyId, fc.constantFrom('one', 'two'), fc.boolean()).map((given) => submit(...given)),
  fc.tuple(anyId, fc.boolean()).map((given) => cancel(...given)),
  fc.boolean().map(close),
  fc.constantFrom('done', 'done', 'failed', 'cancelled').map((how) => end(how as 'done')),
];

it('holds each batch exactly once, whatever happens, and at the end nothing waits', async () => {
  await fc.assert(
    fc.asyncProperty(fc.commands(commands, { maxCommands: 40 }), async (steps) => {
      shops += 1;
      const real = { store: new Store(raw, keysOf(`model-${shops}`), 1_000_000) };
      const model: Model = { batches: new Map(), pool: [], nights: new Map(), been: new Map() };
      await fc.asyncModelRun(() => ({ model, real }), steps);
      // The night ends, and so does all that waited.
      await close(true).run(model, real);
      while (model.nights.size > 0) await end('done').run(model, real);
      for (const id of IDS) {
        const [state] = await real.store.read(jobIdOf(id), ['state']);
        expect(['waiting', 'running']).not.toContain(state?.toString());
      }
    }),
    { numRuns: 60, seed: 19, endOnFailure: true },
  );
}, 120_000);
