/** A printed plan is cut from top to bottom: the bench never holds more begun sticks than the batch says. */
import { describe, expect, it } from 'vitest';
import { frameBatch } from '../../bench/tools/batches.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { showPlan } from '../../src/show/plan.js';
import { planned, steppedClock } from '../plan/kit.js';
import { cutFromPage, takenUp } from '../tools/bench-simulator.js';

const order = frameBatch('bench from the page', {
  frames: 40,
  mouldings: 1,
  offers: [8, 10, 12],
  sizes: 'usual',
  timeLimit: 20,
});

describe('following the page', () => {
  it.each([20, 8])(
    'keeps to a bench of %i sticks',
    async (bench) => {
      const document = { ...order, saw: { ...order.saw, bench } };
      const plan = await planned(document, steppedClock(0.02));
      const page = showPlan(checkBatch(document), plan);
      const { begunMost, rails } = cutFromPage(page);
      expect(rails).toBe(plan.mouldings[0]!.sticks.reduce((sum, stick) => sum + stick.rails.length, 0));
      expect(begunMost).toBeLessThanOrEqual(bench);
      expect(begunMost).toBeGreaterThan(bench / 2);
      const runs = plan.mouldings[0]!.runs!;
      expect(runs.length).toBeGreaterThan(1);
      expect([...new Set(takenUp(page).map(({ run }) => run))]).toEqual(runs.map(({ run }) => run));
      for (const { run, sticks, settings } of runs)
        expect(page).toContain(
          `Run ${run} of ${runs.length}: ${sticks} sticks, ${settings} settings, about `,
        );
    },
    60_000,
  );
});
