/** What replaces lost rails goes to a run that the bench has room for. */
import { describe, expect, it } from 'vitest';
import { mostBegun } from '../../src/check/bench.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { RecutMoulding, RecutStick } from '../../src/documents/recut/types.js';
import { dice, randomBatch } from '../plan/batches.js';
import { planned, steppedClock } from '../plan/kit.js';
import { BASE, recutOf } from './kit.js';

const STEP = 0.05;

/** Sticks of a run tied together by equal rails of one frame. */
function tiedIn(sticks: readonly RecutStick[]): readonly (readonly RecutStick[])[] {
  let groups = sticks.map((stick) => [stick]);
  const keys = (own: readonly RecutStick[]) =>
    new Set(own.flatMap(({ rails }) => rails.map(({ frame, length }) => `${frame} ${length}`)));
  for (let before = 0; before !== groups.length; ) {
    before = groups.length;
    for (const one of groups) {
      const mine = keys(one);
      const others = groups.filter((other) => other !== one && [...keys(other)].some((key) => mine.has(key)));
      if (others.length === 0) continue;
      groups = [
        ...groups.filter((other) => other !== one && !others.includes(other)),
        [one, ...others].flat(),
      ];
      break;
    }
  }
  return groups;
}

/** Most begun at once of those that lie begun and are tied to them; of one group that is all there is, of that. */
function leastBegun(part: RecutMoulding, run: number): number {
  const groups = tiedIn(part.sticks.filter((stick) => stick.run === run && stick.rails.length > 0));
  const ends = new Set(
    part.stops.filter(({ finish }) => finish).flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
  );
  const lies = ({ cut, lost }: RecutStick): boolean => cut.length + lost.length > 0;
  const begun = groups.filter((own) =>
    own.some((stick) => lies(stick) || stick.rails.some(({ rail }) => ends.has(rail))),
  );
  const counted = groups.length === 1 ? groups.flat() : begun.flat();
  const at = new Map(
    counted.flatMap((stick, s) => stick.rails.map(({ rail }) => [rail, { s, stick }] as const)),
  );
  const turns: { stop: number; angle: number; sticks: number[] }[] = [];
  part.stops.forEach((stop, number) => {
    for (const id of stop.pairs.flatMap(({ rails }) => rails)) {
      const own = at.get(id);
      if (own === undefined) continue;
      const { angle } = own.stick.rails.find(({ rail }) => rail === id)!;
      const last = turns.at(-1);
      if (last?.stop === number && last.angle === angle) last.sticks.push(own.s);
      else turns.push({ stop: number, angle, sticks: [own.s] });
    }
  });
  turns[0]?.sticks.push(...counted.flatMap((stick, s) => (lies(stick) ? [s] : [])));
  return mostBegun(turns);
}

/** Frames of many sizes on a small bench, and rails that are lost of it, drawn from a name. */
async function tightOrder(
  name: string,
): Promise<{ document: BatchDocument; plan: Plan; mishaps: readonly (readonly string[])[] }> {
  const at = dice(name);
  const frames = at.whole(6, 14);
  const document: BatchDocument = {
    schema: 'pairstop/batch@1',
    id: 'slipway',
    units: 'mm',
    saw: {
      kerf: 3,
      bench: at.whole(3, 8),
      order: Number(name.split(' ')[1]) % 2 === 1 ? 'longest' : 'fewest',
    },
    mouldings: [{ id: 'lime', face: 24, rabbet: 6 }],
    frames: Array.from({ length: frames }, (_, i) => ({
      id: `print-${i + 1}`,
      moulding: 'lime',
      width: at.whole(230, 700),
      height: at.whole(300, 900),
      quantity: 1 + (i % 3),
    })),
    sticks: [{ id: 'r', moulding: 'lime', length: 1800, quantity: at.whole(0, 3) + 1 }],
    offers: [
      { id: 'a', moulding: 'lime', length: 2400, price: 14.5 },
      { id: 'b', moulding: 'lime', length: 3000, price: 17.9 },
    ],
    options: { timeLimit: 4 },
  };
  const plan = await planned(document, steppedClock(0.02));
  const rails = plan.mouldings.flatMap(({ sticks }) =>
    sticks.flatMap((stick) => stick.rails.map(({ rail }) => rail)),
  );
  const most = Math.ceil(rails.length / 2);
  const mishaps = Array.from({ length: 8 }, () => [
    ...new Set(Array.from({ length: at.whole(2, 7) }, () => rails[at.whole(0, most)]!)),
  ]);
  return { document, plan, mishaps };
}

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

  // With each rail placed by itself each of these leaves a run overfull: rails of one pair on several sticks tie them together.
  it.each([
    ['tight 19', 0],
    ['tight 34', 0],
    ['tight 38', 0],
    ['tight 39', 2],
    ['tight 43', 5],
  ] as const)(
    'keeps pairs together where a recut of the same cost then keeps to it: %s',
    async (name, at) => {
      const { document, plan, mishaps } = await tightOrder(name);
      const lost = mishaps[at]!;
      const made = await recutOf({ document, plan, lost }, null, steppedClock(0.02));
      expect(made.totals.moved).toBeGreaterThan(0);
      expect(made.notices.map(({ code }) => code)).not.toContain('PS_BENCH_FULL');
    },
  );

  it('is overfull only by sticks that lie begun and such as are tied to them, and says so', async () => {
    let [runs, over, putOff] = [0, 0, 0];
    for (let seed = 0; seed < 40; seed++) {
      const at = dice(`recut bench ${seed}`);
      const given = randomBatch(`recut bench ${seed}`);
      const bench = at.whole(1, 3);
      const order = at.chance(0.3) ? 'fewest' : 'longest';
      const document: BatchDocument = { ...given, saw: { ...given.saw, bench, order } };
      const plan = await planned(document, steppedClock(STEP));
      const rails = plan.mouldings.flatMap(({ stops }) =>
        stops.flatMap(({ pairs }) => pairs.flatMap((pair) => pair.rails)),
      );
      if (rails.length === 0) continue;
      const lost = new Set(
        Array.from({ length: at.whole(1, 4) }, () => rails[at.whole(0, rails.length - 1)]!),
      );
      const made = await recutOf({ document, plan, lost: [...lost] });
      const told = made.notices.filter(({ code }) => code === 'PS_BENCH_FULL');
      const full = made.mouldings.filter((part) => part.runs!.some(({ begunMost }) => begunMost > bench));
      expect([seed, told.length]).toEqual([seed, full.length]);
      runs += made.mouldings.flatMap((part) => part.runs!).length;
      for (const part of made.mouldings) {
        const planned = plan.mouldings.find(({ moulding }) => moulding === part.moulding)!;
        const runOf = new Map(planned.sticks.map(({ source, stick, run }) => [`${source} ${stick}`, run!]));
        for (const { source, stick, run } of part.sticks)
          putOff += Number(run! > (runOf.get(`${source} ${stick}`) ?? run!));
      }
      for (const part of full) {
        for (const { run, begunMost } of part.runs!) {
          if (begunMost <= bench) continue;
          over += 1;
          expect([seed, run, leastBegun(part, run)]).toEqual([seed, run, begunMost]);
        }
      }
    }
    expect(runs).toBeGreaterThan(40);
    expect(over).toBeLessThan(runs / 8);
    expect(putOff).toBeGreaterThan(1);
  }, 120_000);
});
