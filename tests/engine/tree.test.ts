/** The tree over all columns, against a table of every activity the programme's columns can come to. */

import type { Highs } from 'highs';
import { beforeAll, describe, expect, it } from 'vitest';
import { type Random, seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import type { Programme } from '../../src/solve/search/programme.js';
import { Tree, type TreeAnswer } from '../../src/solve/search/tree.js';
import { strengthen } from '../../src/solve/setups/gomory.js';
import { lying } from './lying.js';

let highs: Highs;
beforeAll(async () => {
  highs = highsRuntime();
});

const watch = watchOf({ now: () => performance.now(), deadline: performance.now() + 1e9 });

/** Some items, some groups with costs and supplies, one more limit; columns with up to three of an item. */
function programme(random: Random): Programme {
  const items = random.int(1, 4);
  const groups = Array.from({ length: random.int(1, 3) }, () => random.int(0, 9));
  const demand = Array.from({ length: items }, () => random.int(1, 5));
  const supply = groups.map(() => (random.chance(0.4) ? random.int(0, 4) : Infinity));
  const limit = random.chance(0.4) ? random.int(0, 12) : Infinity;
  const count = random.int(1, 8);
  const [cost, most, group]: [number[], number[], number[]] = [[], [], []];
  const [starts, indices, values]: [number[], number[], number[]] = [[0], [], []];
  for (let j = 0; j < count; j++) {
    const s = random.int(0, groups.length - 1);
    const counts = demand.map(() => (random.chance(0.6) ? random.int(0, 3) : 0));
    if (Math.max(...counts) === 0) counts[random.int(0, items - 1)] = 1;
    counts.forEach((a, i) => {
      if (a === 0) return;
      indices.push(i);
      values.push(a);
    });
    indices.push(items + s, items + groups.length);
    values.push(1, s + 1);
    starts.push(indices.length);
    cost.push(groups[s]!);
    group.push(s);
    most.push(Math.max(...counts.map((a, i) => (a > 0 ? Math.ceil(demand[i]! / a) : 0))));
  }
  return {
    cost: Float64Array.from(cost),
    most: Float64Array.from(most),
    group: Int32Array.from(group),
    items,
    lower: Float64Array.of(...demand, ...groups.map(() => -Infinity), -Infinity),
    upper: Float64Array.of(...demand.map(() => Infinity), ...supply, limit),
    starts: Int32Array.from(starts),
    indices: Int32Array.from(indices),
    values: Float64Array.from(values),
  };
}

/** The least cost of any solution, Infinity for none: column by column, all activities kept with their least cost. */
function leastCost({ cost, most, lower, upper, starts, indices, values }: Programme): number {
  let reached = new Map<string, { at: number[]; spent: number }>();
  reached.set('', { at: Array.from(lower, () => 0), spent: 0 });
  cost.forEach((price, j) => {
    const next = new Map<string, { at: number[]; spent: number }>();
    for (const { at, spent } of reached.values()) {
      for (let k = 0; k <= most[j]!; k++) {
        const sums = [...at];
        for (let e = starts[j]!; e < starts[j + 1]!; e++) sums[indices[e]!]! += k * values[e]!;
        if (sums.some((sum, r) => sum > upper[r]!)) break;
        const clipped = sums.map((sum, r) => (lower[r]! > 0 ? Math.min(sum, lower[r]!) : sum));
        const key = clipped.join();
        const known = next.get(key);
        if (!known || known.spent > spent + k * price)
          next.set(key, { at: clipped, spent: spent + k * price });
      }
    }
    reached = next;
  });
  let least = Infinity;
  for (const { at, spent } of reached.values()) {
    if (at.every((sum, r) => sum >= lower[r]!)) least = Math.min(least, spent);
  }
  return least;
}

/** From the definition: cost and every row of the programme. */
function holds({ cost, lower, upper, starts, indices, values }: Programme, times: Float64Array): number {
  const sums = Array.from(lower, () => 0);
  let spent = 0;
  times.forEach((count, j) => {
    expect(Number.isInteger(count) && count >= 0).toBe(true);
    spent += count * cost[j]!;
    for (let e = starts[j]!; e < starts[j + 1]!; e++) sums[indices[e]!]! += count * values[e]!;
  });
  sums.forEach((sum, r) => {
    expect(sum).toBeGreaterThanOrEqual(lower[r]!);
    expect(sum).toBeLessThanOrEqual(upper[r]!);
  });
  return spent;
}

function toTheEnd(tree: Tree, first: number): TreeAnswer {
  let answer = tree.run(watch, first);
  while (answer.status === 'limit') answer = tree.run(watch, 3);
  tree.dispose();
  return answer;
}

describe('the tree over all columns', () => {
  it('finds a solution exactly when there is one at the mark, also when it is stopped and goes on', () => {
    const seen = new Map<string, number>();
    for (let k = 0; k < 450; k++) {
      const random = seeded(`tree ${k}`);
      const one = programme(random);
      const least = leastCost(one);
      const mark =
        k % 5 === 0
          ? Infinity
          : least === Infinity
            ? random.int(0, 40)
            : Math.max(0, least - random.int(0, 2));
      const { status, times } = toTheEnd(new Tree(highs, one, mark), random.int(1, 50));
      const there = mark === Infinity ? least < Infinity : least <= mark;
      expect([k, status]).toEqual([k, there ? 'found' : 'infeasible']);
      if (times) expect(holds(one, times)).toBeLessThanOrEqual(mark);
      seen.set(status, 1 + (seen.get(status) ?? 0));
    }
    expect(seen.get('found')).toBeGreaterThan(110);
    expect(seen.get('infeasible')).toBeGreaterThan(110);
  });

  it('claims nothing from a library whose values and duals are wrong', () => {
    let there = 0;
    for (let k = 0; k < 300; k++) {
      const random = seeded(`lying tree ${k}`);
      const one = programme(random);
      const least = leastCost(one);
      if (least === Infinity) continue;
      there++;
      const tree = new Tree(lying(highs, random), one, k % 3 === 0 ? Infinity : least);
      const { status, times } = tree.run(watch, 300);
      tree.dispose();
      expect(status).not.toBe('infeasible');
      if (times) expect(holds(one, times)).toBeLessThanOrEqual(k % 3 === 0 ? Infinity : least);
    }
    expect(there).toBeGreaterThan(100);
  });
});

/** Some rows asking for just as much as at least. */
function withEquals(one: Programme, random: Random): Programme {
  const upper = one.upper.slice();
  one.lower.forEach((least, r) => {
    if (least > 0 && random.chance(0.7)) upper[r] = least;
  });
  return { ...one, upper };
}

describe('cuts over columns', () => {
  it('rule out no solution at the mark, and prove more than the linear programme', () => {
    const proven = { cuts: 0, plain: 0, there: 0 };
    for (let k = 0; k < 300; k++) {
      const random = seeded(`cuts ${k}`);
      const one = withEquals(programme(random), random);
      const least = leastCost(one);
      const mark = least === Infinity ? random.int(0, 40) : Math.max(0, least - random.int(0, 2));
      const strong = strengthen(highs, one, mark, [], watch);
      const left = Float64Array.from(one.cost, () => 0);
      if (least <= mark) {
        proven.there += 1;
        expect([k, strong.hopeless]).toEqual([k, false]);
        const { status, times } = toTheEnd(new Tree(highs, strong.programme, mark, true, strong.known), 5);
        expect([k, status]).toEqual([k, 'found']);
        strong.left.forEach((j, at) => {
          left[j] = times![at]!;
        });
        expect(holds(one, left)).toBeLessThanOrEqual(mark);
        continue;
      }
      const tree = new Tree(highs, one, mark);
      proven.plain += Number(tree.root(watch, 0)?.hopeless);
      proven.cuts += Number(strong.hopeless);
      tree.dispose();
    }
    expect(proven.there).toBeGreaterThan(35);
    expect(proven.cuts).toBeGreaterThan(proven.plain + 45);
  });

  it('made from wrong values and multipliers claim nothing', () => {
    for (let k = 0; k < 150; k++) {
      const random = seeded(`lying cuts ${k}`);
      const one = withEquals(programme(random), random);
      const least = leastCost(one);
      if (least === Infinity) continue;
      const strong = strengthen(lying(highs, random), one, least, [], watch);
      expect([k, strong.hopeless]).toEqual([k, false]);
      expect([k, leastCost(strong.programme)]).toEqual([k, least]);
    }
  });
});
