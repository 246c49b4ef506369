/** Merged settings against every set of settings there is, on small seeded cases, and ranges against a plain count of marks. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { choicesOf, type Ring, type Side } from '../../src/merge/choices.js';
import { piercings, pointFor, type SideRange } from '../../src/merge/pierce.js';
import { type Box, coverRings } from '../../src/merge/rings.js';
import { rangesOf } from '../../src/rails/ranges.js';
import { type Dice, dice } from '../plan/batches.js';

const ROUNDS = 300;

function spansOf(at: Dice, most: number): SideRange[] {
  return Array.from({ length: at.whole(1, most) }, () => {
    const low = at.whole(0, 12);
    return { low, high: low + at.whole(0, 4), weight: at.whole(1, 5) };
  });
}

interface Score {
  readonly settings: number;
  readonly gauges: number;
  readonly total: number;
}

function better(a: Score, b: Score): boolean {
  return (a.settings - b.settings || b.gauges - a.gauges || a.total - b.total) < 0;
}

/** By trying every set of whole numbers: each range takes the shortest of them it holds. */
function bestOfAll(spans: readonly SideRange[], gauges: ReadonlySet<number>): Score {
  const marks = [...new Set(spans.flatMap(({ low, high }) => [low, high]))];
  const all = Array.from({ length: Math.max(...marks) + 1 }, (_, mark) => mark);
  let best: Score = { settings: 99, gauges: 0, total: 0 };
  const choose = (next: number, points: readonly number[]): void => {
    if (points.length > best.settings) return;
    if (next === all.length) {
      let total = 0;
      for (const { low, high, weight } of spans) {
        const point = points.find((one) => one >= low);
        if (point === undefined || point > high) return;
        total += point * weight;
      }
      const score = {
        settings: points.length,
        gauges: points.filter((one) => gauges.has(one)).length,
        total,
      };
      if (better(score, best)) best = score;
      return;
    }
    choose(next + 1, points);
    choose(next + 1, [...points, all[next]!]);
  };
  choose(0, []);
  return best;
}

describe('settings for rails cut at one stop', () => {
  it('are the fewest, then most of gauge sticks, then of least length, as trying every set says', () => {
    let gauged = 0;
    for (let round = 0; round < ROUNDS; round++) {
      const at = dice(`pierce ${round}`);
      const spans = spansOf(at, 7);
      const gauges = [at.whole(0, 16), at.whole(0, 16)].sort((a, b) => a - b);
      const [found] = piercings(spans, gauges, 4).found;
      const due = bestOfAll(spans, new Set(gauges));
      expect({ settings: found!.points.length, gauges: found!.gauges, total: found!.total }).toEqual(due);
      gauged += due.gauges;
      for (const { low, high } of spans) expect(pointFor(found!.points, low)).toBeLessThanOrEqual(high);
    }
    expect(gauged).toBeGreaterThan(ROUNDS / 10);
  });

  it('stay the fewest where there are more points than can be tried before each other', () => {
    // Own settings on every mark of 40,000, each range 10,000 marks long: four settings, by hand.
    const spans = Array.from({ length: 40_000 }, (_, i) => ({ low: (i * 7_919) % 40_000, weight: 1 }));
    const { found, all } = piercings(
      spans.map((span) => ({ ...span, high: span.low + 9_999 })),
      [],
      2,
    );
    expect(found[0]!.points.length).toBe(4);
    expect(all).toBe(false);
  }, 60_000);

  it('come in every choice, the shortest first, and say when some were left out', () => {
    let several = 0;
    for (let round = 0; round < ROUNDS; round++) {
      const spans = spansOf(dice(`choices ${round}`), 9);
      const { found, all } = piercings(spans, [], 50);
      expect(all).toBe(true);
      expect(found.map(({ total }) => total)).toEqual(found.map(({ total }) => total).sort((a, b) => a - b));
      expect(new Set(found.map(({ points }) => points.join())).size).toBe(found.length);
      const few = piercings(spans, [], 1);
      expect(few.found).toEqual(found.slice(0, 1));
      if (found.length > 1) {
        several += 1;
        expect(few.all).toBe(false);
      }
    }
    expect(several).toBeGreaterThan(ROUNDS / 10);
  });

  // Ranges 0 to 4, 3 to 8 and 6 to 12: two settings, and the middle rail may go up or down.
  it('leave a rail free between two settings to the cheaper one', () => {
    const spans = (weight: number): SideRange[] => [
      { low: 0, high: 4, weight: 1 },
      { low: 3, high: 8, weight },
      { low: 6, high: 12, weight: 1 },
    ];
    expect(piercings(spans(4), [], 4).found.map(({ points }) => points)).toEqual([
      [3, 6],
      [0, 6],
    ]);
  });
});

function boxesOf(at: Dice, most: number): Box[] {
  return Array.from({ length: at.whole(1, most) }, () => {
    const [long, short] = [at.whole(10, 18), at.whole(0, 8)];
    return {
      long: { low: long, high: long + at.whole(0, 4) },
      short: { low: short, high: short + at.whole(0, 4) },
      weight: at.whole(1, 4),
    };
  });
}

/** Fewest pairs of settings that lie within every box, by trying sets of the boxes' lower corners and crossings. */
function fewestRuns(boxes: readonly Box[]): number {
  const points = boxes.flatMap(({ long }) => boxes.map(({ short }) => [long.low, short.low] as const));
  const serves = boxes.map((box) =>
    points.map(
      ([l, s]) => l >= box.long.low && l <= box.long.high && s >= box.short.low && s <= box.short.high,
    ),
  );
  for (let count = 1; ; count++) {
    const chosen = (from: number, left: number, points_: readonly number[]): boolean => {
      if (left === 0) return serves.every((served) => points_.some((point) => served[point]));
      for (let next = from; next < points.length; next++) {
        if (chosen(next + 1, left - 1, [...points_, next])) return true;
      }
      return false;
    };
    if (chosen(0, count, [])) return count;
  }
}

describe('runs with two stops', () => {
  it('are the fewest, as trying every set of settings says', () => {
    let joined = 0;
    for (let round = 0; round < ROUNDS; round++) {
      const boxes = boxesOf(dice(`rings ${round}`), 5);
      const { runs, least } = coverRings(boxes, []);
      expect(runs.length).toBe(fewestRuns(boxes));
      expect(least).toBe(runs.length);
      joined += boxes.length - runs.length;
      const served = runs.flatMap(({ long, short, boxes: own }) =>
        own.map((i) => {
          const box = boxes[i]!;
          expect(long >= box.long.low && long <= box.long.high).toBe(true);
          expect(short >= box.short.low && short <= box.short.high).toBe(true);
          return i;
        }),
      );
      expect(served.sort((a, b) => a - b)).toEqual([...boxes.keys()]);
    }
    expect(joined).toBeGreaterThan(ROUNDS / 10);
  });

  it('say so when there were too many boxes to be sure', () => {
    const at = dice('many rings');
    const boxes = Array.from({ length: 60 }, () => {
      const [long, short] = [at.whole(100, 200), at.whole(0, 90)];
      return {
        long: { low: long, high: long + 25 },
        short: { low: short, high: short + 25 },
        weight: 1,
      };
    });
    const { runs, least } = coverRings(boxes, []);
    expect(least).toBeLessThanOrEqual(runs.length);
    expect(least).toBeGreaterThan(0);
  });
});

describe('choices of settings', () => {
  it('keep every side within its range and rings at two settings of one run, in as few as counted', () => {
    let squared = 0;
    for (let round = 0; round < ROUNDS; round++) {
      const at = dice(`sides ${round}`);
      const sides: Side[] = spansOf(at, 6);
      const rings: Ring[] = [];
      for (let i = at.whole(0, 2); i > 0; i--) {
        const low = at.whole(4, 10);
        const long = low + at.whole(1, 3);
        const weight = 2 * at.whole(1, 3);
        rings.push([sides.length + 1, sides.length]);
        sides.push({ low, high: low + at.whole(0, 4), weight });
        sides.push({ low: long, high: long + at.whole(0, 4), weight });
      }
      const { lengths, stopSettings, least } = choicesOf(sides, rings, [], 5);
      expect(least).toBe(stopSettings);
      for (const choice of lengths) {
        const stops = new Set<string>();
        const inRing = new Set(rings.flat());
        sides.forEach(({ low, high }, i) => {
          expect(choice[i]).toBeGreaterThanOrEqual(low);
          expect(choice[i]).toBeLessThanOrEqual(high);
          if (!inRing.has(i)) stops.add(String(choice[i]));
        });
        for (const [long, short] of rings) {
          if (choice[long] === choice[short]) squared += 1;
          stops.add(
            choice[long] === choice[short] ? String(choice[long]) : `${choice[long]}+${choice[short]}`,
          );
        }
        const count = [...stops].reduce((sum, stop) => sum + (stop.includes('+') ? 2 : 1), 0);
        expect(count).toBe(stopSettings);
      }
      // No set of whole settings of fewer points serves the sides that stand alone.
      expect(stopSettings).toBeGreaterThanOrEqual(
        bestOfAll(
          sides.filter((_, i) => !rings.flat().includes(i)),
          new Set(),
        ).settings,
      );
    }
    expect(squared).toBeGreaterThan(10);
  });
});

function rangesIn(units: 'in' | 'mm', step: string, frame: Partial<BatchDocument['frames'][number]>) {
  const batch = checkBatch({
    schema: 'pairstop/batch@1',
    id: 'ranges',
    units,
    saw: { stopStep: step },
    mouldings: [{ id: 'm', face: '30 mm', rabbet: '6 mm' }],
    frames: [{ id: 'f', moulding: 'm', ...frame } as BatchDocument['frames'][number]],
  });
  return rangesOf(batch, 0, batch.mouldings[0]!);
}

describe('the range of a rail', () => {
  // Glass 400 with play 2 to 3.2: outside 400 + play − 12 + 60, so 450 to 451.2.
  it('goes up to the last mark, or gauge stick, within playMax', () => {
    const frame = { width: 400, height: 300.3, play: 2, playMax: 3.2 };
    expect(rangesIn('mm', '0.5 mm', frame)).toEqual([
      { low: 450_000, high: 451_200 },
      { low: 350_500, high: 351_500 },
    ]);
  });

  it('is one setting where nothing more is allowed', () => {
    const size = { width: 400, height: 300.3 };
    const single = [
      { low: 450_000, high: 450_000 },
      { low: 350_500, high: 350_500 },
    ];
    expect(rangesIn('mm', '0.5 mm', { ...size, play: 2 })).toEqual(single);
    expect(rangesIn('mm', '0.5 mm', { ...size, play: 2, playMax: 2 })).toEqual(single);
    for (const measuredBy of ['rabbet', 'sight', 'outside'] as const) {
      const ranges = rangesIn('mm', '0.5 mm', { ...size, measuredBy, play: 2, playMax: 9 });
      for (const { low, high } of ranges) expect(high).toBe(low);
    }
  });

  it('never passes playMax, by counting marks in sixteenths of a micrometre', () => {
    for (let round = 0; round < ROUNDS; round++) {
      const at = dice(`range ${round}`);
      const [glass, more] = [at.whole(8 * 64, 20 * 64), at.whole(0, 16)];
      const frame = { width: `${glass}/64`, height: '9', play: '1/8', playMax: `${8 + more}/64` };
      const [range] = rangesIn('in', '1/32 in', frame);
      // In 1/64 in, 396.875 µm: glass + play + (60 − 12) mm, from which marks of two.
      const need = (play: number): number => (glass + play) * 396.875 + 48_000;
      const marks = Array.from({ length: 60 }, (_, i) => (Math.ceil(need(8) / 793.75 - 1e-9) + i) * 793.75);
      expect(range!.low).toBe(Math.ceil(marks[0]! - 1e-6));
      const last = marks.findLast((mark) => mark <= need(8 + more) + 1e-6);
      const highest = Math.max(range!.low, Math.floor(need(8 + more) + 1e-6));
      expect(range!.high).toBe(last === undefined ? highest : Math.max(highest, Math.ceil(last - 1e-6)));
    }
  });

  // Side of a hexagon of glass side s: s + (play − 2R + 2F)·tan 30°.
  it('holds for polygons, whose play counts by the tangent', () => {
    const frame = { sides: 6, side: 200, play: 2, playMax: 6 };
    const reach = (play: number): number => 200_000 + (play + 48) * 1000 * Math.tan(Math.PI / 6);
    const [range] = rangesIn('mm', '0.5 mm', frame);
    expect(range!.low).toBe(Math.ceil(reach(2) / 500) * 500);
    expect(range!.high).toBe(Math.floor(reach(6)));
  });
});
