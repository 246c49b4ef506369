/** The search over listed columns, against a search of the test's own that tries every plan. */
import { describe, expect, it } from 'vitest';
import { cuttingStock } from '../../bench/tools/problems.js';
import { type Random, seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { type Column, columnOf, serves, usage } from '../../src/solve/columns/columns.js';
import { PairPricing } from '../../src/solve/columns/pair-pricing.js';
import { type Instance, prepare } from '../../src/solve/instance/instance.js';
import { UNCOUNTED, watchOf } from '../../src/solve/instance/watch.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';
import { PairSearch } from '../../src/solve/search/branch.js';
import { ListedSearch } from '../../src/solve/search/listed.js';
import { lying } from './lying.js';

const STICK = 60;
const watch = watchOf({ now: () => performance.now(), deadline: performance.now() + 1e9 });

/** Rails near a third of a stick, some twice, that leave 0 to 6 of so many sticks. */
function drawn(random: Random, sticks: number): Instance | null {
  const demand = new Map<number, number>();
  let left = sticks * STICK - random.int(0, 6);
  while (left > 0) {
    const rail = Math.min(left, random.int(13, 33));
    demand.set(rail, (demand.get(rail) ?? 0) + 1);
    left -= rail;
  }
  const instance = prepare(cuttingStock(STICK, [...demand.keys()], [...demand.values()]));
  // Lengths with a common divisor are divided by it.
  return instance.largest === STICK ? instance : null;
}

/** Every pattern of an item or more that fits. */
function patterns({ n, weight, demand }: Instance): Column[] {
  const list: Column[] = [];
  const counts = new Int32Array(n);
  const next = (i: number, room: number): void => {
    if (i === n) {
      const items = Int32Array.from(counts.keys()).filter((k) => counts[k]! > 0);
      if (items.length > 0) list.push(columnOf(n, 0, [{ items, counts: items.map((k) => counts[k]!) }]));
      return;
    }
    for (let c = 0; c <= demand[i]! && c * weight[i]! <= room; c++) {
      counts[i] = c;
      next(i + 1, room - c * weight[i]!);
    }
    counts[i] = 0;
  };
  next(0, STICK);
  return list;
}

/** Every plan of exactly the demand from at most so many sticks: each stick has the first item that is left. */
function* plans(list: readonly Column[], left: Int32Array, sticks: number): Generator<readonly Column[]> {
  const lead = left.findIndex((d) => d > 0);
  if (lead < 0) yield [];
  if (lead < 0 || sticks === 0) return;
  for (const column of list) {
    if (column.items[0] !== lead || column.items.some((i, e) => column.counts[e]! > left[i]!)) continue;
    const rest = left.slice();
    column.items.forEach((i, e) => {
      rest[i]! -= column.counts[e]!;
    });
    for (const plan of plans(list, rest, sticks - 1)) yield [column, ...plan];
  }
}

const key = ({ items, counts }: Column): string => `${items.join()}:${counts.join()}`;

describe('the search over listed columns', () => {
  it('finds a plan exactly when there is one, also when it is stopped and goes on', () => {
    const highs = highsLp(highsRuntime);
    const random = seeded('listed columns');
    const seen = { found: 0, infeasible: 0 };
    for (let k = 0; k < 150; k++) {
      const sticks = random.int(2, 3);
      const instance = drawn(random, sticks);
      if (!instance) continue;
      const list = patterns(instance);
      // A list that lacks some patterns is a problem of its own, with rails that have one pattern or none.
      const kept = [0.05, 0.15, 0.5, 1][k % 4]!;
      const one = k % 4 === 0 ? plans(list, instance.demand, sticks).next().value : undefined;
      const some = list.filter((column) => one?.includes(column) === true || random.chance(kept));
      const search = ListedSearch.of([k % 2 === 0 ? simplexLp : highs], instance, some, sticks)!;
      let answer = search.run(watch, 1);
      while (answer.status === 'limit') answer = search.run(watch, 2);
      search.dispose();
      const there = plans(some, instance.demand, sticks).next().done === false;
      if (answer.plan) {
        expect(serves(instance, answer.plan)).toBe(true);
        expect(usage(instance, answer.plan)[0]).toBeLessThanOrEqual(sticks);
      }
      // Where no plan from the list makes exactly what is asked for, one may make more.
      if (there || !answer.plan) expect(answer.status).toBe(there ? 'found' : 'infeasible');
      seen[there ? 'found' : 'infeasible']++;
    }
    expect(Math.min(seen.found, seen.infeasible)).toBeGreaterThan(15);
  });

  it('claims nothing from a library whose values and duals are wrong', () => {
    const highs = highsRuntime();
    const random = seeded('listed by a liar');
    let there = 0;
    for (let k = 0; k < 60; k++) {
      const sticks = random.int(2, 3);
      const instance = drawn(random, sticks);
      if (!instance) continue;
      const list = patterns(instance);
      if (plans(list, instance.demand, sticks).next().done !== false) continue;
      there++;
      const search = ListedSearch.of([highsLp(() => lying(highs, random))], instance, list, sticks)!;
      const { status, plan } = search.run(watch, 300);
      search.dispose();
      expect(status).not.toBe('infeasible');
      if (plan) expect(serves(instance, plan)).toBe(true);
    }
    expect(there).toBeGreaterThan(20);
  });

  it('is given every column of every plan, whatever the duals', () => {
    const random = seeded('columns within');
    let plenty = 0;
    let fewer = 0;
    for (let k = 0; k < 60; k++) {
      const sticks = random.int(2, 3);
      const instance = drawn(random, sticks);
      if (!instance) continue;
      const pricing = new PairPricing(instance, { cost: [1], rows: [], unmade: null }, sticks, UNCOUNTED);
      // Near what a rail is worth by its length, as the best duals are.
      const item = instance.weight.map((w) => (w / STICK) * (1 + random.int(-20, 20) / 1000));
      pricing.price({ item, supply: new Float64Array(1), row: new Float64Array(0) });
      const within = pricing.within(100_000);
      if (!within) continue;
      const known = new Set(within.map(key));
      const list = patterns(instance);
      if (known.size < list.length) fewer++;
      let most = 200;
      for (const plan of plans(list, instance.demand, sticks)) {
        if (most-- === 0) break;
        for (const column of plan) expect(known).toContain(key(column));
        plenty++;
      }
    }
    expect(fewer).toBeGreaterThan(10);
    expect(plenty).toBeGreaterThan(20);
  });

  it('is given rails worth nothing, too, where a plan may waste a whole stick and more', () => {
    const random = seeded('columns with rails worth nothing');
    let held = 0;
    for (let k = 0; k < 40; k++) {
      // A long rail for each stick, which leaves room for one or two of the short ones.
      const sticks = random.int(4, 5);
      const demand = new Map<number, number>();
      while (demand.size < sticks) demand.set(random.int(31, 40), 1);
      for (const rail of [random.int(11, 14), random.int(15, 20)]) demand.set(rail, 1);
      const instance = prepare(cuttingStock(STICK, [...demand.keys()], [...demand.values()]));
      const length = instance.weight.reduce((sum, w) => sum + w, 0);
      if (instance.largest !== STICK || sticks * STICK - length < STICK) continue;
      const goal = { cost: [1], rows: [], unmade: null };
      const pricing = new PairPricing(instance, goal, sticks, UNCOUNTED);
      const item = instance.weight.map((w) => (w > STICK / 2 ? 1 : 0));
      pricing.price({ item, supply: new Float64Array(1), row: new Float64Array(0) });
      const known = new Set(pricing.within(100_000)!.map(key));
      let most = 200;
      for (const plan of plans(patterns(instance), instance.demand, sticks)) {
        if (most-- === 0) break;
        for (const column of plan) expect(known).toContain(key(column));
        held++;
      }
      const search = new PairSearch([simplexLp], instance, goal, [], sticks, watch);
      let answer = search.run(watch, 10);
      while (answer.status === 'limit') answer = search.run(watch, 10);
      search.dispose();
      expect(answer.status).toBe('found');
      expect(serves(instance, answer.plan!)).toBe(true);
    }
    expect(held).toBeGreaterThan(100);
  });
});
