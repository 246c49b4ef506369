/** Numbers of pieces under packs and price breaks: the cheapest against a count of all, and orders of forty lines. */
import { describe, expect, it } from 'vitest';
import { frameBatch, problemsOf } from '../../bench/tools/batches.js';
import { type Random, seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { type CountCosts, Counting } from '../../src/solve/counts/counting.js';
import { coverOf, type PieceCover, short } from '../../src/solve/counts/covers.js';
import { createEngine } from '../../src/solve/engine.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { UNCOUNTED } from '../../src/solve/instance/watch.js';
import type { Problem, Purchase } from '../../src/solve/problem.js';
import { isProven, solveChecked } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

/** Steps upwards of 0 to 5, so that many numbers cost the same. */
function curve(random: Random, most: number): Float64Array {
  const list = [0];
  for (let n = 1; n <= most; n++) list.push(list[n - 1]! + (random.chance(0.5) ? 0 : random.int(0, 5)));
  return Float64Array.from(list);
}

function everyVector(tops: readonly number[]): number[][] {
  let all: number[][] = [[]];
  for (const top of tops) {
    all = all.flatMap((list) => Array.from({ length: top + 1 }, (_, n) => [...list, n]));
  }
  return all;
}

describe('the cheapest numbers of pieces', () => {
  it('are those of a count of all vectors', () => {
    let none = 0;
    for (let i = 0; i < 400; i++) {
      const random = seeded(`counting ${i}`);
      const groups = random.int(1, 4);
      const goals = random.int(1, 2);
      const tops = Array.from({ length: groups }, () => random.int(0, 6));
      const costs: CountCosts[] = tops.map((top) => Array.from({ length: goals }, () => curve(random, top)));
      const covers: PieceCover[] = Array.from({ length: random.int(1, 3) }, () => ({
        worth: Float64Array.from(tops, () => random.int(0, 9)),
        need: random.int(1, 60),
      }));
      const limits = goals === 2 ? [random.int(0, 40)] : [];
      const excluded = Array.from({ length: random.int(0, 2) }, () =>
        Float64Array.from(tops, (top) => random.int(0, top)),
      );
      const costOf = (vector: readonly number[], goal: number): number =>
        vector.reduce((sum, n, s) => sum + costs[s]![goal]![n]!, 0);
      let least = Infinity;
      for (const vector of everyVector(tops)) {
        if (covers.some((cover) => short(cover, vector))) continue;
        if (excluded.some((most) => vector.every((n, s) => n <= most[s]!))) continue;
        if (limits.some((limit, g) => costOf(vector, g) > limit)) continue;
        least = Math.min(least, costOf(vector, goals - 1));
      }
      const found = new Counting(costs, limits, covers, excluded, UNCOUNTED).cheapest(Infinity);
      expect({ i, cost: found?.cost ?? Infinity }).toEqual({ i, cost: least });
      if (least === Infinity) none++;
      if (!found) continue;
      const pieces = [...found.pieces];
      expect(covers.some((cover) => short(cover, pieces))).toBe(false);
      expect(excluded.some((most) => pieces.every((n, s) => n <= most[s]!))).toBe(false);
      expect(costOf(pieces, goals - 1)).toBe(least);
      expect(new Counting(costs, limits, covers, excluded, UNCOUNTED).cheapest(least)).toBeNull();
    }
    expect(none).toBeGreaterThan(20);
    expect(none).toBeLessThan(380);
  });

  it('never lose a plan to rounding: a cover of great values holds where the values themselves do', () => {
    for (let i = 0; i < 200; i++) {
      const random = seeded(`cover ${i}`);
      const items = Array.from({ length: 5 }, () => ({
        weight: random.int(10, 60),
        demand: random.int(1, 900),
        kind: 0,
      }));
      const stock = { segments: [100], costs: [1], supply: null, purchase: null };
      const instance = prepare({ items, stocks: [stock], kinds: null, goals: 1 });
      const item = Float64Array.from(items, () => random.int(0, 2 ** 45));
      const need = items.reduce((sum, _, k) => sum + BigInt(item[k]!) * BigInt(instance.demand[k]!), 0n);
      const pieces = random.int(1, 3000);
      // Exactly enough in whole numbers, whatever is lost to a shorter form.
      const worth = Number((need + BigInt(pieces) - 1n) / BigInt(pieces));
      const cover = coverOf(instance, { item, worth: Float64Array.of(worth) });
      expect(cover && short(cover, [pieces])).toBe(false);
      expect(cover && short(cover, [Math.floor(pieces * 0.999) - 1])).toBe(true);
    }
  });
});

/** Forty lines of one moulding; most lengths sold in packs, cheaper from some number on. */
function bought(i: number): Problem {
  const shape = { frames: 40, mouldings: 1, offers: [8, 10, 12], sizes: 'usual', timeLimit: 30 } as const;
  const problem = problemsOf(frameBatch(`bought ${i}`, shape))[0]!;
  const random = seeded(`offers ${i}`);
  const stocks = problem.stocks.map((stock) => {
    const price = stock.costs[0]!;
    const purchase: Purchase = {
      pack: random.pick([1, 2, 5, 6, 10]),
      tiers: [
        { from: 1, price },
        { from: random.pick([10, 20]), price: Math.round(price * 0.93) },
      ],
    };
    return { ...stock, purchase };
  });
  return { ...problem, stocks };
}

describe('forty lines with packs and price breaks', () => {
  it.each([0, 1, 2, 3, 4, 5])('order %i is proven', (i) => {
    expect(isProven(solveChecked(engine, bought(i), { ms: 20_000 }))).toBe(true);
  });
});
