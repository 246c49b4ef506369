/** Faults that trials of the program found and that no other test names: each was seen failing first. */

import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkBatch, readBatch } from '../../src/documents/batch/read.js';
import { planBatchHere } from '../../src/plan/here.js';
import { sawCheck } from '../../src/saw/saw.js';
import { showComparison } from '../../src/show/comparison.js';
import { showPlan } from '../../src/show/plan.js';
import { showSawCheck } from '../../src/show/saw.js';
import { compared, ORDER, offering } from '../compare/kit.js';
import { engine, now } from '../plan/kit.js';
import { DEMO } from '../tools/cli.js';

/** Of a page, with its line ends as spaces. */
const running = (page: string): string => page.replaceAll(/\s+/g, ' ');

describe('a comparison beside the plan', () => {
  it('gives the figures that the plan of the same offers has, and no count of visits of its own', async () => {
    const comparison = await compared(ORDER);
    const { scenarios } = comparison.mouldings[0]!;
    const alone = scenarios.filter(({ kind, figures }) => kind === 'one' && figures !== null);
    expect(alone.length).toBe(3);
    for (const { offers, figures, buy } of alone) {
      const own = offering(
        ORDER,
        ORDER.offers!.filter(({ id }) => offers.includes(id)),
      );
      const plan = planBatchHere(checkBatch(own), engine(), { now });
      const { sticks, stockLength, railLength, stopSettings, yield: share } = plan.totals;
      expect(figures).toMatchObject({
        sticks,
        stockLength,
        railLength,
        stopSettings,
        yield: share,
      });
      expect(buy).toEqual(plan.buy);
      // Pairs are not kept together here yet, which takes a few visits more.
      expect(figures!.seconds! / plan.totals.seconds!).toBeGreaterThanOrEqual(1);
      expect(figures!.seconds! / plan.totals.seconds!).toBeLessThan(1.15);
      // How much of the rest is kept the plan alone sees to the end. It keeps pairs together, and only then is it known how often a stick is taken up.
      expect(plan.totals.handling!.visits).toBeGreaterThan(0);
      expect(Object.keys(figures!).filter((key) => /visit/i.test(key))).toEqual([]);
    }
    const page = showComparison(checkBatch(ORDER), comparison);
    expect(page).not.toMatch(/visit/i);
    expect(showPlan(checkBatch(ORDER), planBatchHere(checkBatch(ORDER), engine(), { now }))).toMatch(/visit/);
  });
});

describe('the saw check', () => {
  const demo = readBatch(readFileSync(DEMO));

  it('says first that opposing rails are equal, then what joints alone would stand, and not to cut to it', () => {
    const page = running(showSawCheck(demo, sawCheck(demo, { gap: 396 })));
    const [equal, alone, never] = [
      'Opposing rails come from one stop setting, so they are equal.',
      'joints alone would stand',
      'Do not cut to these differences',
    ].map((text) => page.indexOf(text));
    expect(equal).toBeGreaterThan(0);
    expect(alone).toBeGreaterThan(equal!);
    expect(never).toBeGreaterThan(alone!);
    expect(page).not.toMatch(/may differ/);
  });

  it('never says GOOD of joints that miss each other without saying when it holds', () => {
    // 45.2° under a gap that allows it, and one that does not.
    for (const gap of [3_175, 396]) {
      const page = running(showSawCheck(demo, sawCheck(demo, { gap, angles: [45.2] })));
      const verdicts = page.split(/(?=\bNOT GOOD |(?<!NOT )\bGOOD )/).slice(1);
      expect(verdicts.length).toBeGreaterThan(1);
      for (const verdict of verdicts) {
        expect(verdict).toContain('the last ones miss each other by');
        const good = verdict.startsWith('GOOD ');
        expect(verdict.includes('This holds only if no joint is fixed before the ring is closed.')).toBe(
          good,
        );
      }
      expect(verdicts.some((verdict) => verdict.startsWith('GOOD '))).toBe(gap === 3_175);
    }
  });
});
