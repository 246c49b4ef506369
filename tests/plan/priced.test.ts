/** With a rate, what is least is wood bought plus time at that rate; plans without a rate stay as they are. */
import { describe, expect, it } from 'vitest';
import { frameBatch } from '../../bench/tools/batches.js';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { planMoulding } from '../../src/plan/moulding.js';
import { pricedAtLeast, pricedValue } from '../../src/plan/priced.js';
import { showPlan } from '../../src/show/plan.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { engine, now, planned, steppedClock } from './kit.js';

const RATES = [0, 30, 600];
/** Milliseconds a reading of the clock takes. */
const STEP = 0.5;

function order(name: string, bench = 20): BatchDocument {
  const batch = frameBatch(name, {
    frames: 8,
    mouldings: 1,
    offers: [8, 10, 12],
    sizes: 'usual',
    timeLimit: 2,
  });
  return { ...batch, saw: { ...batch.saw, bench } };
}

function at(document: BatchDocument, rate: number): BatchDocument {
  return { ...document, labour: { rate } };
}

/** Money for wood and for time, from the totals that the checker has verified. */
function both({ totals }: Plan, rate: number): number {
  return totals.cost + ((totals.seconds ?? 0) * rate) / 3600;
}

describe('at a rate', () => {
  it.each([
    ['a few frames', 20],
    ['other frames', 20],
    ['a bench for four sticks', 4],
  ])('%s: wood and time together are least', async (name, bench) => {
    // Which plans are found within the time is the same on any machine where runs are searched for.
    const clock = () => (bench === 4 ? steppedClock(STEP) : now);
    const plain = await planned(order(name, bench), clock());
    const plans = new Map<number, Plan>();
    for (const rate of RATES) plans.set(rate, await planned(at(order(name, bench), rate), clock()));
    if (bench === 4)
      for (const plan of plans.values()) expect(plan.mouldings[0]!.runs!.length).toBeGreaterThan(1);
    for (const [rate, plan] of plans) {
      expect(both(plan, rate)).toBeLessThanOrEqual(both(plain, rate) + 0.01);
      const priced = plan.mouldings[0]?.priced;
      if (rate === 0) {
        expect(priced).toBeUndefined();
        continue;
      }
      // What is proven at this rate holds for the plans of all other rates.
      for (const other of plans.values()) expect(priced!.bound).toBeLessThanOrEqual(both(other, rate) + 0.01);
    }
  });

  it('less time is spent, and no less wood bought, the more an hour costs', async () => {
    const [low, high] = [
      await planned(at(order('dear hours'), 0)),
      await planned(at(order('dear hours'), 2_000)),
    ];
    expect(high.totals.seconds!).toBeLessThanOrEqual(low.totals.seconds!);
    expect(high.totals.cost).toBeGreaterThanOrEqual(low.totals.cost);
  });
});

describe('what patterns come to at least', () => {
  it.each([
    ['plain', 1, 'stop' as const],
    ['packs, and pairs that stay together', 3, 'pair' as const],
  ])('%s: never more than the plan they become', async (name, pack, match) => {
    const plain = at(order(`at least: ${name}`, 6), 90);
    const document = checkBatch({
      ...plain,
      options: { ...plain.options, timeLimit: 1 },
      frames: plain.frames.map((line) => ({ ...line, match })),
      offers: plain.offers!.map((offer) => ({ ...offer, pack })),
    });
    const resolved = new ResolvedBatch(document);
    const moulding = document.mouldings[0]!.id;
    const options = { now, deadline: now() + 500, seed: 1 };
    const part = planMoulding(resolved, moulding, engine(), options);
    const least = pricedAtLeast(document, resolved.task(resolved.order(moulding))!, part);
    expect(least).toBeLessThanOrEqual(pricedValue(document, part.totals) + 1e-6);
    // Only stops that several runs set again, and visits of pairs on two sticks, are not known beforehand.
    expect(least).toBeGreaterThan(0.9 * pricedValue(document, part.totals));
  });
});

describe('a moulding that is cut from the rack alone', () => {
  it('uses as little of it at any rate, and the page says that time is not weighed against it', async () => {
    const { offers: _, ...bare } = order('rack alone');
    const moulding = bare.mouldings[0]!.id;
    const sticks = [{ id: 'r', moulding, length: "10'", quantity: 60 }];
    const document = { ...bare, sticks };
    const [plain, dear] = [await planned(document), await planned(at(document, 600))];
    expect(dear.mouldings[0]!.priced).toBeUndefined();
    expect(dear.mouldings[0]!.proof.value).toBe(plain.mouldings[0]!.proof.value);
    const said = 'The rack has no price to weigh time against';
    expect(showPlan(checkBatch(at(document, 600)), dear)).toContain(said);
    expect(showPlan(checkBatch(document), plain)).not.toContain(said);
    expect(
      showPlan(checkBatch(at(order('rack alone'), 600)), await planned(at(order('rack alone'), 600))),
    ).not.toContain(said);
  });
});

describe('the checker', () => {
  it('finds a sum that is not that of wood and time', async () => {
    const document = at(order('a few frames'), 30);
    const plan = await planned(document);
    const batch = checkBatch(document);
    const priced = plan.mouldings[0]!.priced!;
    for (const wrong of [
      { ...priced, value: priced.value + 1 },
      { ...priced, bound: priced.value + 1 },
      { ...priced, status: priced.status === 'optimal' ? ('within' as const) : ('optimal' as const) },
    ]) {
      const spoiled = { ...plan, mouldings: [{ ...plan.mouldings[0]!, priced: wrong }] };
      expect(checkPlan(batch, spoiled).ok).toBe(false);
    }
  });
});
