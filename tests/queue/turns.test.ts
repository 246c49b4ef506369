/** Turns of a batch through the queue go by the rule of a plan in process (`processes/share.ts`), noted in Redis. */
import { afterAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { planBatch } from '../../src/processes/plan-batch.js';
import { firstRound, nextShare, SharedTime } from '../../src/processes/share.js';
import { jobIdOf, keysOf } from '../../src/queue/names.js';
import { Store } from '../../src/queue/record/store.js';
import { turnOf } from '../../src/queue/worker/jobs/turn.js';
import { batchOf } from '../tools/batches.js';
import { openService } from '../tools/service.js';

const WAIT = { wait: 60_000 };
const KEPT = 1_000_000;
/** Milliseconds by which sleeping and asking may take longer than was asked for. */
const LATE = 400;

const { raw, worker, client, end } = await openService({ nowSlots: 2, tonightSlots: 1 });
afterAll(end);

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

const figures = {
  proof: { status: 'optimal', measure: 'cost', value: 1, bound: 1 },
  frames: 1,
  ordered: 1,
} as const;

async function entered(name: string, mouldings: number, limit: number) {
  const store = new Store(raw, keysOf(name), KEPT);
  const ids = Array.from({ length: mouldings }, (_, k) => `m${k}`);
  const entry = await store.enter('job', { id: 'b', fingerprint: 'f'.repeat(64), urgency: 'now' }, 1, {
    sealed: Buffer.from('x'),
    mouldings: ids,
    limit,
    expected: { each: [], small: false },
    woodFirst: true,
    shop: false,
  });
  expect(entry.kind).toBe('go');
  const begin = async (index: number) => {
    const begun = await store.attempts.begin('job', index, 1, ids[index]!);
    if (begun.kind !== 'go') throw new Error(begun.kind);
    return { begun, attempt: { jobId: 'job', index, run: 1, fence: begun.fence } };
  };
  const part = (index: number) => ({ moulding: ids[index]!, sealed: Buffer.from('x'), ...figures });
  return { store, begin, part };
}

describe('turns noted in Redis', () => {
  it('know what earlier ones took beyond their shares, and what those now taken are promised', async () => {
    const { store, begin, part } = await entered('turns-shop', 12, 4_000);
    await store.first('job', 1, 1, firstRound(4_000, 12, 1, true));
    const one = await begin(0);
    expect(one.begun).toMatchObject({ phase: 'wood', limit: 3_200, beyond: 0, ended: 0, promised: 0 });
    await store.attempts.allot(one.attempt, 100);
    // A share is given once.
    await store.attempts.allot(one.attempt, 9_000);
    await pause(600);
    await store.attempts.finish(one.attempt, part(0), 100);

    const two = await begin(1);
    expect(two.begun).toMatchObject({ ended: 1, promised: 0, waiting: 11 });
    expect(two.begun.beyond).toBeGreaterThanOrEqual(490);
    expect(two.begun.beyond).toBeLessThan(500 + LATE);
    await store.attempts.allot(two.attempt, 1_000);
    await pause(200);
    const three = await begin(2);
    expect(three.begun.promised).toBeLessThanOrEqual(810);
    expect(three.begun.promised).toBeGreaterThan(800 - LATE);

    // An attempt that is repeated has what is left of its share, and promises no more than that.
    await store.attempts.release(two.attempt);
    const again = await begin(1);
    expect(again.begun.allotted).toBe(1_000);
    expect(again.begun.promised).toBe(0);
    const four = await begin(3);
    const left = 1_000 - again.begun.used;
    expect(four.begun.promised).toBeLessThanOrEqual(left);
    expect(four.begun.promised).toBeGreaterThan(left - LATE);
  });

  it('are as long as in process where as much has passed', async () => {
    for (const [mouldings, limit, took] of [
      [12, 4_000, 300],
      [12, 4_000, 0],
      [30, 6_000, 700],
      [2, 4_000, 300],
    ] as const) {
      const { store, begin, part } = await entered(`as-in-process-${mouldings}-${took}`, mouldings, limit);
      const round = firstRound(limit, mouldings, 1, true);
      if (round.phase !== 'all') await store.first('job', 1, 1, round);
      let clock = 0;
      const time = new SharedTime({ ...round, waiting: mouldings, slots: 1, now: () => clock });
      const [here, there] = [time.begin(), await begin(0)];
      const first = turnOf(there.begun, 1);
      expect(first.budget).toBeCloseTo(here.share, 6);
      expect(first.woodOnly).toBe(here.woodOnly);
      await store.attempts.allot(there.attempt, first.budget);
      await pause(took);
      await store.attempts.finish(there.attempt, part(0), first.budget);
      // As long as it took by Redis's clock.
      clock = Number((await store.read('job', ['spent']))[0]);
      here.end();
      expect(turnOf((await begin(1)).begun, 1).budget).toBeCloseTo(time.begin().share, 0);
    }
  });

  it('begin anew with each round: wood, then runs for all of them', async () => {
    const { store, begin, part } = await entered('rounds-shop', 3, 3_000);
    await store.first('job', 1, 1, { phase: 'wood', limit: 2_400 });
    for (const index of [0, 1, 2]) {
      const { begun, attempt } = await begin(index);
      expect(turnOf(begun, 1).woodOnly).toBe(true);
      await store.attempts.allot(attempt, 1);
      await pause(20);
      await store.attempts.finish(attempt, part(index), 1);
    }
    expect(await store.extend('job', 1, 1, 0, { phase: 'runs', limit: 900 }, [0, 1, 2])).toBe('extended');
    const { begun } = await begin(0);
    expect(begun).toMatchObject({
      phase: 'runs',
      limit: 900,
      size: 3,
      spent: 0,
      beyond: 0,
      ended: 0,
      promised: 0,
    });
    const turn = turnOf(begun, 1);
    expect(turn).toEqual({
      budget: nextShare({ limit: 900, spent: 0, waiting: 3, slots: 1 }),
      woodOnly: false,
    });
    // The part of the round before is what it goes on from.
    expect(begun.best).toMatchObject({ moulding: 'm0' });
  });
});

describe('a batch of many mouldings through the queue', () => {
  it('has its wood searched for first, then its runs, and is as good as in process', async () => {
    const ids = Array.from({ length: 8 }, (_, k) => `many-${k}`);
    const document = batchOf('many', ids, { timeLimit: 6 });
    const batch = checkBatch(document);
    await client.submit(document);
    const plan = await client.result('many', WAIT);
    expect(checkPlan(batch, plan).ok).toBe(true);
    // A turn for its wood and one for its runs, and on a busy machine some for what was left open.
    for (const id of ids) expect([id, worker.begun(id) >= 2]).toEqual([id, true]);
    const here = await planBatch(batch, { processes: 2 });
    expect(plan.buy).toEqual(here.buy);
    expect(plan.mouldings.map(({ proof }) => proof)).toEqual(here.mouldings.map(({ proof }) => proof));
    const fields = ['phase', 'wood', 'promised', 'beyond', 'ended', 'left'];
    const kept = await raw.hmget(`pairstop:store:${jobIdOf('many')}`, ...fields);
    expect(kept).toEqual(fields.map(() => null));
  });

  it('is the same as in process, byte for byte, where no clock cuts it short', async () => {
    const ids = Array.from({ length: 8 }, (_, k) => `ample-${k}`);
    const document = batchOf('ample', ids, { timeLimit: 60 });
    await client.submit(document);
    const plan = await client.result('ample', WAIT);
    const here = await planBatch(checkBatch(document), { processes: 1 });
    expect(JSON.stringify(plan)).toBe(JSON.stringify(here));
  });
});
