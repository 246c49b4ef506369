/** What replaces lost rails goes to a run that the bench has room for. */
import { describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { dice, randomBatch } from '../plan/batches.js';
import { planned, steppedClock } from '../plan/kit.js';
import { BASE, recutOf } from './kit.js';

const STEP = 0.05;

describe('a recut on a small bench', () => {
  it('gives a new stick a run of its own where no run has room for it', async () => {
    // Two sticks of 60, each with a frame of its own and in a run of its own.
    const document: BatchDocument = {
      ...BASE,
      saw: { ...BASE.saw, bench: 1 },
      sticks: [{ id: 'r', moulding: 'ash', length: 60, quantity: 2 }],
    };
    const plan = await planned(document);
    expect(plan.mouldings[0]!.runs).toMatchObject([
      { sticks: 1, begunMost: 1 },
      { sticks: 1, begunMost: 1 },
    ]);
    // All of the first stick is lost: the other lies between its first and its last setting all through its run.
    const lost = plan.mouldings[0]!.sticks[0]!.rails.map(({ rail }) => rail);
    const made = await recutOf({ document, plan, lost }, lost.join('\n'));
    expect(made.notices.filter(({ code }) => code === 'PS_BENCH_FULL')).toEqual([]);
    expect(made.mouldings[0]!.runs).toMatchObject([
      { run: 2, sticks: 1, begunMost: 1 },
      { run: 3, sticks: 1, begunMost: 1 },
    ]);
    expect(made.totals.seconds).toBe(made.mouldings[0]!.seconds);
  });

  it('is never overfull by a stick that is not of the plan, and says where it is', async () => {
    let [runs, over] = [0, 0];
    for (let seed = 0; seed < 40; seed++) {
      const at = dice(`recut bench ${seed}`);
      const given = randomBatch(`recut bench ${seed}`);
      const bench = at.whole(1, 3);
      const document = { ...given, saw: { ...given.saw, bench } };
      const plan = await planned(document, steppedClock(STEP));
      const order = plan.mouldings.flatMap(({ stops }) =>
        stops.flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
      );
      if (order.length === 0) continue;
      const lost = new Set(
        Array.from({ length: at.whole(1, 4) }, () => order[at.whole(0, order.length - 1)]!),
      );
      const made = await recutOf({ document, plan, lost: [...lost] });
      const told = made.notices.filter(({ code }) => code === 'PS_BENCH_FULL');
      const full = made.mouldings.filter((part) => part.runs!.some(({ begunMost }) => begunMost > bench));
      expect([seed, told.length]).toEqual([seed, full.length]);
      runs += made.mouldings.flatMap((part) => part.runs!).length;
      for (const part of full) {
        const known = new Set(
          plan.mouldings
            .find(({ moulding }) => moulding === part.moulding)!
            .sticks.map(({ source, stick }) => `${source} ${stick}`),
        );
        for (const { run, begunMost } of part.runs!) {
          if (begunMost <= bench) continue;
          over += 1;
          const own = part.sticks.filter((stick) => stick.run === run && stick.rails.length > 0);
          for (const stick of own) {
            if (known.has(`${stick.source} ${stick.stick}`)) continue;
            // It is there because its rails are equal to others that are cut in this run.
            const frames = new Set(stick.rails.map(({ frame, length }) => `${frame} ${length}`));
            const tied = own.some(
              (other) =>
                other !== stick && other.rails.some(({ frame, length }) => frames.has(`${frame} ${length}`)),
            );
            expect([seed, stick.stick, tied]).toEqual([seed, stick.stick, true]);
          }
        }
      }
    }
    expect(runs).toBeGreaterThan(40);
    expect(over).toBeLessThan(runs / 4);
  }, 120_000);
});
