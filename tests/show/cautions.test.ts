/** Every page that shows cuts carries the cautions, and marks the rails that must not be held where they are cut. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { recut } from '../../src/recut/recut.js';
import { sawCheck } from '../../src/saw/saw.js';
import { showPlan } from '../../src/show/plan.js';
import { showRecut } from '../../src/show/recut.js';
import { showSawCheck } from '../../src/show/saw.js';
import { randomBatch } from '../plan/batches.js';
import { engine, now, planned } from '../plan/kit.js';

function flat(page: string): string {
  return page.replace(/\s+/g, ' ');
}

/** Each in our own words; the trade's list, from its chapter on safety. */
const CAUTIONS = [
  /manual and your local rules come before/,
  /Unplug the saw while you set it up/,
  /Keep hands well away from the blade: (6 in|150 mm)/,
  /too short to clamp, do not cut it/,
  /Support the stick along its whole length/,
  /Let the blade stop before you lift it or clear an offcut/,
  /[Ee]ye, ear and dust protection/,
];

const CLAMP = 254;

function clamping(name: string): BatchDocument {
  const random = randomBatch(name);
  return { ...random, saw: { ...random.saw, clampBelow: '254 mm' } };
}

function shortStops(
  parts: readonly { readonly stops: readonly { setting: number; second: number | null }[] }[],
) {
  return parts.flatMap(({ stops }) => stops).filter(({ setting, second }) => (second ?? setting) < CLAMP);
}

function expectMarked(page: string, stops: number): void {
  for (const caution of CAUTIONS) expect(flat(page)).toMatch(caution);
  expect(page.split('CLAMP OR JIG, do not hold').length - 1).toBe(stops);
  // Where sticks are listed a short rail has its star, and only then is the star explained.
  const explained = page.includes('Rails marked * or CLAMP are under');
  expect(explained).toBe(stops > 0);
  expect(/\d(?:"| mm)\*/.test(page)).toBe(stops > 0);
}

describe('the cautions', () => {
  it('stand on the page of a plan and of a recut, short rails marked at the stop and on the stick', async () => {
    let [marked, unmarked] = [0, 0];
    for (let i = 0; i < 16; i++) {
      const document = clamping(`cautions ${i}`);
      const [batch, plan] = [checkBatch(document), await planned(document)];
      const stops = shortStops(plan.mouldings).length;
      expectMarked(showPlan(batch, plan), stops);
      if (stops > 0) marked += 1;
      else unmarked += 1;
      const first = plan.mouldings[0]?.stops[0]?.pairs[0]?.rails[0];
      if (first === undefined || batch.mouldings.length > 1) continue;
      const options = { now, deadline: now() + 1_000, seed: 1 };
      const made = recut({ batch, plan, lost: [first], told: null }, engine(), options);
      expectMarked(showRecut(batch, made), shortStops(made.mouldings).length);
    }
    expect(marked).toBeGreaterThan(2);
    expect(unmarked).toBeGreaterThan(0);
  }, 120_000);

  it('stand on the page of a saw check, whose test rings are long enough to hold', () => {
    for (let i = 0; i < 10; i++) {
      const batch = checkBatch(clamping(`cautions ${i}`));
      const check = sawCheck(batch, { gap: 400 });
      for (const caution of CAUTIONS) expect(flat(showSawCheck(batch, check))).toMatch(caution);
      for (const ring of check.tests) expect([ring.clamp, ring.setting >= CLAMP]).toEqual([false, true]);
    }
  });
});
