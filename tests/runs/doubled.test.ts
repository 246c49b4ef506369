/** Sticks packed two by two: all rails cut, from the same sticks, and whole pairs on each two that are cut alike. */
import { describe, expect, it } from 'vitest';
import { asCut, halvedTurns, packDoubled } from '../../src/runs/lots/doubled.js';
import type { LotTask, PieceSort } from '../../src/runs/lots/lot.js';
import type { Pattern } from '../../src/solve/problem.js';
import { dice } from '../plan/batches.js';

const LENGTHS = [2_400, 3_000, 3_600] as const;
const SEEDS = 40;

/** A plan whose sticks hold pairs, each of them on one stick, so that there is one of whole pairs. */
function planOf(seed: number) {
  const at = dice(`doubled ${seed}`);
  const numbers = Array.from({ length: at.whole(12, 30) }, (_, k) => k);
  const weights = numbers.map(() => at.whole(150, 600)).sort((a, b) => b - a);
  const sorts = LENGTHS.map((length, stock): PieceSort => ({ stock, segments: [length] }));
  const sticks = Array.from({ length: at.whole(25, 50) }, (): Pattern => {
    const stock = at.whole(0, sorts.length - 1);
    const counts = new Map<number, number>();
    let room: number = LENGTHS[stock]!;
    for (let tries = 0; tries < 30; tries++) {
      const item = at.pick(numbers);
      if (2 * weights[item]! > room) continue;
      room -= 2 * weights[item]!;
      counts.set(item, (counts.get(item) ?? 0) + 2);
    }
    const entries = [...counts].map(([item, count]) => ({ item, count })).sort((a, b) => a.item - b.item);
    return { stock, count: 1, segments: [entries] };
  });
  const turns = {
    turnOf: numbers,
    stopOf: numbers,
    weight: numbers.map(() => 1),
    together: numbers.map(() => 2),
    loose: numbers.map(() => -1),
  };
  const task: LotTask = { turns, weights, sorts, bench: 20 };
  const lotOf = (patterns: readonly Pattern[]) => {
    const rails = new Int32Array(weights.length);
    const pieces = new Int32Array(sorts.length);
    for (const { stock, count, segments } of patterns) {
      pieces[stock]! += count;
      for (const entry of segments.flat()) rails[entry.item]! += count * entry.count;
    }
    return { rails, pieces, patterns, stops: 0 };
  };
  return { task, sticks, lotOf };
}

function packed(plan: Parameters<typeof packDoubled>[0], seed: number) {
  const work = { spend: () => undefined };
  return packDoubled(plan, { seed, attempts: 1, repairs: 4, refilled: 10, work, stopped: () => false });
}

describe('sticks two by two', () => {
  it(`cut all rails from the sticks of the plan, each two with whole pairs, on ${SEEDS} seeds`, () => {
    let found = 0;
    for (let seed = 0; seed < SEEDS; seed++) {
      const plan = planOf(seed);
      const doubled = packed(plan, seed);
      if (doubled === null) continue;
      found += 1;
      const cut = doubled.map((one) => asCut(one));
      for (const pattern of cut) {
        const entries = pattern.segments.flat();
        const length = entries.reduce((sum, { item, count }) => sum + count * plan.task.weights[item]!, 0);
        expect(length).toBeLessThanOrEqual(LENGTHS[pattern.stock]!);
        expect(entries.every(({ count }) => (pattern.count * count) % 2 === 0)).toBe(true);
        expect(entries.length).toBeGreaterThan(0);
      }
      const [before, after] = [plan.lotOf(plan.sticks), plan.lotOf(cut)];
      expect([seed, ...after.rails]).toEqual([seed, ...before.rails]);
      expect([...after.pieces]).toEqual([...before.pieces]);
    }
    expect(found).toBeGreaterThan(0.9 * SEEDS);
  });

  it('are none where rails are of an odd number, and the same for the same seed', () => {
    const plan = planOf(3);
    expect(packed(plan, 1)).toEqual(packed(plan, 1));
    const [first, ...others] = plan.sticks;
    const entries = first!.segments[0]!.map((entry, k) => ({
      ...entry,
      count: entry.count - (k === 0 ? 1 : 0),
    }));
    expect(packed({ ...plan, sticks: [{ ...first!, segments: [entries] }, ...others] }, 1)).toBeNull();
  });

  it('hold a bundle where half of them holds what is left of it', () => {
    const turns = { turnOf: [], stopOf: [], weight: [], loose: [], together: [1, 2, 3, 4, 6, 8] };
    // By definition: so many halves, twice, are a multiple of the bundle; the least such number.
    const least = turns.together.map((bundle) => {
      let halves = 1;
      while ((2 * halves) % bundle !== 0) halves += 1;
      return halves;
    });
    expect(halvedTurns(turns).together).toEqual(least);
  });
});
