/** Plans weighed with their runs, re-checked from the definition: every rail is cut, whole pairs in a run, the bench held. */
import { describe, expect, it } from 'vitest';
import { begunMost } from '../../src/runs/begun.js';
import { type Weighed, type WeighedStick, Weighing, type WeighTask } from '../../src/runs/weigh/weighing.js';
import { randomOf } from '../../src/solve/random.js';
import { dice } from '../plan/batches.js';

const CASES = 120;
/** The one piece with a flaw. */
const FLAWED = 3;

/**
 * Pairs of a few settings, each pair on a stick of its own and in a run of its own; two more on one with a flaw between
 * them.
 */
function order(seed: number): { task: WeighTask; start: Omit<Weighed, 'value'> } {
  const at = dice(`weigh ${seed}`);
  const items = at.whole(2, 6);
  const numbers = Array.from({ length: items }, (_, item) => item);
  const weight = numbers.map(() => at.whole(10, 45)).sort((a, b) => b - a);
  const pairs = numbers.flatMap((item) => Array.from({ length: at.whole(1, 3) }, () => item));
  const task: WeighTask = {
    turns: {
      turnOf: numbers,
      stopOf: numbers,
      weight: numbers.map(() => at.whole(0, 30)),
      together: numbers.map(() => 2),
      loose: numbers.map(() => -1),
    },
    bench: at.whole(1, 4),
    weight,
    visit: at.whole(1, 12),
    cost: [60, 85, 30, 20],
    capacity: [100, 150, 150, 0],
    // Of the cheapest there are only a few.
    supply: [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, at.whole(0, 2), 1],
  };
  const sticks: WeighedStick[] = pairs.map((item) => ({ items: [item], counts: [2], stock: 0, lanes: null }));
  const lanes = [0, 1].map((item) => [{ item, count: 2 }]);
  sticks.push({ items: [0, 1], counts: [2, 2], stock: FLAWED, lanes });
  return { task, start: { sticks, run: sticks.map((_, run) => run) } };
}

/** What it comes to; null where it may not be cut so. */
function worth(task: WeighTask, { sticks, run }: Omit<Weighed, 'value'>): number | null {
  const { turns, bench, weight, visit, cost, capacity, supply } = task;
  let value = 0;
  const used = supply.map(() => 0);
  for (const { items, counts, stock } of sticks) {
    used[stock]! += 1;
    value += cost[stock]! + visit * items.length;
    if (
      stock !== FLAWED &&
      items.reduce((sum, item, e) => sum + weight[item]! * counts[e]!, 0) > capacity[stock]!
    )
      return null;
  }
  if (used.some((count, stock) => count > supply[stock]!)) return null;
  for (const own of new Set(run)) {
    const held = sticks.filter((_, stick) => run[stick] === own);
    const rails = new Map<number, number>();
    for (const { items, counts } of held)
      items.forEach((item, e) => {
        rails.set(item, (rails.get(item) ?? 0) + counts[e]!);
      });
    for (const [item, count] of rails) {
      if (count % 2 !== 0) return null;
      value += turns.weight[item]!;
    }
    const spans = held.map(({ items }) => ({ first: items[0]!, last: items.at(-1)! }));
    if (begunMost(spans, turns.stopOf.length) > bench) return null;
  }
  return value;
}

function railsOf({ sticks }: Pick<Weighed, 'sticks'>): string {
  const rails = new Map<number, number>();
  for (const { items, counts } of sticks)
    items.forEach((item, e) => {
      rails.set(item, (rails.get(item) ?? 0) + counts[e]!);
    });
  return JSON.stringify([...rails].sort(([a], [b]) => a - b));
}

describe('wood, visits and stops weighed together', () => {
  it('a plan that may be cut, worth what it says, and all but always less than one pair a run', () => {
    let better = 0;
    for (let seed = 0; seed < CASES; seed++) {
      const { task, start } = order(seed);
      const before = worth(task, start)!;
      const weighing = new Weighing(task, start.sticks, start.run, randomOf(seed));
      weighing.cool(3_000, 1, () => 0);
      const best = weighing.best!;
      expect(railsOf(best)).toBe(railsOf(start));
      expect(best.sticks.filter(({ stock }) => stock === FLAWED)).toEqual([start.sticks.at(-1)]);
      expect(best.value).toBeCloseTo(worth(task, best)!, 6);
      expect(best.value).toBeLessThanOrEqual(before);
      better += Number(best.value < before);
    }
    expect(better).toBeGreaterThan(0.9 * CASES);
  });

  it('as cheap as it can be where that is known: two settings, one stick', () => {
    const { task } = order(0);
    const two: WeighTask = {
      ...task,
      turns: {
        ...task.turns,
        weight: [10, 10],
        turnOf: [0, 1],
        stopOf: [0, 1],
        together: [2, 2],
        loose: [-1, -1],
      },
      bench: 1,
      weight: [40, 30],
      visit: 5,
      supply: [9, 9, 0, 0],
    };
    const sticks = [0, 1].map((item) => ({ items: [item], counts: [2], stock: 0, lanes: null }));
    const weighing = new Weighing(two, sticks, [0, 1], randomOf(1));
    weighing.cool(2_000, 1, () => 0);
    // One stick of 150 for both pairs instead of two of 100; each setting is set once either way.
    expect(weighing.best!.value).toBe(85 + 2 * 5 + 2 * 10);
  });
});
