/** Plans with merged stops: checked against their batches, and against the same batches without merging. */
import { describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { dice, randomBatch } from './batches.js';
import { planned, steppedClock } from './kit.js';

const ROUNDS = 25;
/** Milliseconds a reading of the clock takes: a time limit of 1 s is so many readings on any machine. */
const STEP = 2;

type Frame = BatchDocument['frames'][number];

/** Random batches whose frames come in sizes close to each other, most with room for a longer rail. */
function nearEqual(name: string, merge: boolean): BatchDocument {
  const at = dice(name);
  const batch = randomBatch(name, { scarce: at.chance(0.2) });
  const frames = batch.frames.flatMap((frame): Frame[] => {
    const measuredBy = at.chance(0.85) ? ('glass' as const) : (frame.measuredBy ?? 'glass');
    const play = { play: '3 mm', ...(at.chance(0.8) ? { playMax: `${at.whole(30, 60) / 10} mm` } : {}) };
    const one: Frame = { ...frame, ...play, measuredBy };
    if (one.sides !== undefined || at.chance(0.3)) return [one];
    const wider = { ...one, id: `${frame.id}b`, quantity: at.whole(1, 3), match: frame.match ?? 'stop' };
    const size = (of: string | number | undefined): string =>
      typeof of === 'number' ? `${of + at.whole(0, 15) / 10} mm` : `${of ?? '9'}`;
    return [
      one,
      { ...wider, width: size(one.width), height: at.chance(0.5) ? size(one.height) : one.height },
    ];
  });
  return {
    ...batch,
    units: batch.units,
    saw: { ...batch.saw, bench: dice(`${name} bench`).chance(0.4) ? 2 : 20 },
    frames,
    gauges: [{ id: 'G', length: `${at.whole(3000, 4500) / 10} mm` }],
    options: { timeLimit: 1, seed: 1, mergeStops: merge },
  };
}

function made(plan: Plan): readonly string[] {
  return [
    ...new Set(plan.mouldings.flatMap((part) => part.sticks.flatMap((s) => s.rails.map((r) => r.frame)))),
  ].sort();
}

describe('merged stops', () => {
  it('hold, make the same frames, and say what the same batch takes without merging', async () => {
    let [fewer, short, gauges, again] = [0, 0, 0, 0];
    for (let i = 0; i < ROUNDS; i++) {
      const name = `merge ${i}`;
      const merged = await planned(nearEqual(name, true), steppedClock(STEP));
      const plain = await planned(nearEqual(name, false), steppedClock(STEP));
      if (merged.status === 'short') short += 1;
      expect(made(merged)).toEqual(made(plain));
      expect(merged.totals.unmerged?.stopSettings).toBe(plain.totals.stopSettings);
      merged.mouldings.forEach((part, m) => {
        const other = plain.mouldings[m]!;
        const { unmerged, merged: way, leastSettings } = part.merging!;
        expect(way.stopSettings).toBeLessThanOrEqual(unmerged.stopSettings);
        expect(way.stopSettings).toBeGreaterThanOrEqual(leastSettings);
        if (way.stopSettings < unmerged.stopSettings) fewer += 1;
        again += Number((part.stopsSet?.value ?? 0) > way.stopSettings);
        gauges += part.stops.filter(({ gauge }) => gauge !== null).length;
        if (part.proof.status === 'optimal' && other.proof.status === 'optimal') {
          const one = part.proof.measure === 'cost' ? unmerged.cost : unmerged.stockLength;
          if (unmerged.bound === one) expect(one).toBe(other.proof.value);
        }
        const rings = new Set(
          nearEqual(name, true).frames.flatMap(({ match, moulding }) =>
            match === 'frame' ? [moulding] : [],
          ),
        );
        const notices = merged.notices.map(({ code }) => code);
        if (!rings.has(part.moulding) && !notices.includes('PS_STOPS_NOT_MERGED')) {
          expect(way.stopSettings).toBe(leastSettings);
        }
      });
    }
    expect(fewer).toBeGreaterThan(ROUNDS / 4);
    expect(short).toBeGreaterThan(0);
    expect(gauges).toBeGreaterThan(0);
    // Also where a stop is set in several runs.
    expect(again).toBeGreaterThan(0);
  }, 300_000);

  it('give the same plan, byte for byte, a second time', async () => {
    for (const name of ['merge 3', 'merge 8']) {
      const one = await planned(nearEqual(name, true), steppedClock(STEP));
      const two = await planned(nearEqual(name, true), steppedClock(STEP));
      expect(JSON.stringify(one)).toBe(JSON.stringify(two));
    }
  }, 60_000);
});

/** Two frames a millimetre apart in width, on sticks that hold four of the shorter rail and no more. */
function tight(extra: Partial<BatchDocument> = {}): BatchDocument {
  const frame = { moulding: 'm', play: 0, playMax: 2 };
  return {
    schema: 'pairstop/batch@1',
    id: 'tight',
    units: 'mm',
    saw: { kerf: 0, stopStep: 1 },
    mouldings: [{ id: 'm', face: 20, rabbet: 0 }],
    frames: [
      { id: 'A', ...frame, width: 360, height: 360 },
      { id: 'B', ...frame, width: 361, height: 361 },
    ],
    offers: [
      { id: 'o', moulding: 'm', length: 1600, price: 10 },
      { id: 'p', moulding: 'm', length: 1604, price: 11 },
    ],
    options: { mergeStops: true },
    ...extra,
  };
}

describe('what merging costs', () => {
  it('is shown beside what it saves', async () => {
    // Rails of 400 and 401: four of each fill a stick of 1600 and one of 1604. Merged, all eight are 401.
    const plan = await planned(tight());
    const [part] = plan.mouldings;
    expect(part!.merging).toEqual({
      unmerged: { stopSettings: 2, sticks: 2, stockLength: 3204, cost: 21, bound: 21 },
      merged: { stopSettings: 1, sticks: 2, stockLength: 3208, cost: 22, bound: 22 },
      leastSettings: 1,
      choices: 1,
    });
    expect(plan.totals).toMatchObject({ stopSettings: 1, cost: 22, unmerged: { stopSettings: 2, cost: 21 } });
    expect(part!.stops.map(({ setting }) => setting)).toEqual([401]);
    // The one choice was solved to the end: nothing is left open.
    expect(plan.notices).toEqual([]);
  });

  it('is never a frame: where the stock holds them only unmerged, they stay so', async () => {
    const plan = await planned(
      tight({
        offers: [],
        sticks: [
          { id: 'r', moulding: 'm', length: 1600 },
          { id: 's', moulding: 'm', length: 1604 },
        ],
      }),
    );
    expect(plan.status).toBe('complete');
    expect(plan.totals.stopSettings).toBe(2);
    expect(plan.mouldings[0]!.merging).toMatchObject({ leastSettings: 1, choices: 0 });
    expect(plan.notices.map(({ code }) => code)).toEqual(['PS_STOPS_NOT_MERGED']);
  });

  it('decides between choices of as few settings, also against the shorter rails', async () => {
    // 400 to 404, 403 to 408 and 406 to 412: two settings, 403 and 406 or 400 and 406.
    const frames = [
      [360, 4, 3],
      [363, 5, 4],
      [366, 6, 1],
    ].map(([size = 0, playMax = 0, quantity = 1], i) => ({
      id: `F${i}`,
      moulding: 'm',
      play: 0,
      playMax,
      quantity,
      width: size,
      height: size,
    }));
    const offers = [{ id: 'o', moulding: 'm', length: 1609, price: 10 }];
    // 28·403 + 4·406 = 12908 is less than 12·400 + 20·406 = 12920; but four of 400 go on a stick, and three of 403.
    const plan = await planned(tight({ frames, offers }));
    const [part] = plan.mouldings;
    expect(part!.stops.map(({ setting }) => setting)).toEqual([406, 400]);
    expect(plan.totals).toMatchObject({ cost: 100, stopSettings: 2 });
    expect(part!.merging).toMatchObject({ choices: 2, leastSettings: 2 });
    expect(plan.notices).toEqual([]);
  });

  it('may be a longer rail: a gauge stick the shop owns is preferred among the fewest settings', async () => {
    const plan = await planned(tight({ gauges: [{ id: 'G', length: 401.7 }] }));
    expect(plan.mouldings[0]!.stops).toMatchObject([{ setting: 401.7, gauge: 'G' }]);
  });

  it('is not asked of frames measured otherwise, and the plan says so', async () => {
    const [a, b] = tight().frames;
    const plan = await planned(tight({ frames: [a!, { ...b!, measuredBy: 'rabbet' }] }));
    // A may be 400 to 402, so both are cut at B's 401; B keeps its size.
    expect(plan.mouldings[0]!.stops.map(({ setting }) => setting)).toEqual([401]);
    expect(plan.notices.map(({ code, path }) => `${code} ${path}`)).toEqual([
      'PS_SIZE_KEPT frames[1].playMax',
    ]);
  });
});
