/** Cutting without a plan is a fair comparison only when it is a true way of cutting the order. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { naivePlan } from '../../bench/tools/naive.js';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch, readBatch } from '../../src/documents/batch/read.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { randomBatch } from '../plan/batches.js';
import { planned } from '../plan/kit.js';
import { DEMO } from '../tools/cli.js';

/** What cutting without a plan means: settings in the order of the frames. */
const ORDER = ['CHECK_ORDER', 'CHECK_STOP_ORDER'];

function unlikeAPlan(document: Parameters<typeof checkBatch>[0], plan: Plan): readonly string[] {
  const batch = checkBatch(document);
  return Object.keys(checkPlan(batch, plan).counts).filter((code) => !ORDER.includes(code));
}

describe('cutting without a plan', () => {
  it('gives every rail of the demo from the stock there is, by the checker', () => {
    const document: unknown = JSON.parse(readFileSync(DEMO, 'utf8'));
    const batch = readBatch(readFileSync(DEMO));
    const plan = naivePlan(batch)!;
    expect(unlikeAPlan(document, plan)).toEqual([]);
    const rails = plan.mouldings.flatMap((part) => part.sticks.flatMap((stick) => stick.rails));
    expect(rails).toHaveLength(57 * 4 + 3 * 6);
    // Two settings a frame but for rings and squares, never one that was set for the frame before.
    const settings = plan.mouldings.flatMap((part) => part.stops);
    for (const [i, stop] of settings.entries()) {
      if (i > 0)
        expect([stop.setting, stop.second]).not.toEqual([settings[i - 1]!.setting, settings[i - 1]!.second]);
    }
    expect(plan.totals.stopsSet?.value).toBeGreaterThan(60);
  });

  it('is sound for any batch, and never cheaper than a proven plan', async () => {
    let compared = 0;
    for (let i = 0; i < 25; i++) {
      const document = randomBatch(`naive ${i}`);
      const naive = naivePlan(checkBatch(document));
      if (naive === null) continue;
      expect(unlikeAPlan(document, naive)).toEqual([]);
      const plan = await planned(document);
      if (plan.mouldings.some((part) => part.proof.status !== 'optimal')) continue;
      compared += 1;
      expect(naive.totals.cost).toBeGreaterThanOrEqual(plan.totals.cost);
      expect(naive.totals.stopsSet?.value).toBeGreaterThanOrEqual(plan.totals.stopsSet?.value ?? 0);
    }
    expect(compared).toBeGreaterThan(5);
  }, 120_000);
});
