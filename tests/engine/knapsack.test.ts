/** The pricing's table and search against every pattern there is, also where a pattern may leave little. */
import { describe, expect, it } from 'vitest';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { ExactPricing } from '../../src/solve/columns/exact-pricing.js';
import { foldedTable } from '../../src/solve/columns/fold.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import { StepPricing } from '../../src/solve/columns/step-pricing.js';
import { type Instance, prepare } from '../../src/solve/instance/instance.js';
import { wasteWithin } from '../../src/solve/instance/waste.js';
import { UNCOUNTED } from '../../src/solve/instance/watch.js';

/** Every vector of counts that fits the stick and leaves at most `waste`, from the definition. */
function* patterns(instance: Instance, waste: number): Generator<Int32Array> {
  const { n, weight, demand, largest } = instance;
  const counts = new Int32Array(n);
  const all = function* (i: number, room: number): Generator<Int32Array> {
    if (i === n) {
      if (room <= waste) yield counts.slice();
      return;
    }
    for (let k = 0; k <= demand[i]! && k * weight[i]! <= room; k++) {
      counts[i] = k;
      yield* all(i + 1, room - k * weight[i]!);
    }
    counts[i] = 0;
  };
  yield* all(0, largest);
}

const worthOf = (values: Float64Array, counts: Int32Array): number =>
  counts.reduce((sum, count, i) => sum + count * values[i]!, 0);

const plentiful = ({ demand, largest, weight }: Instance, i: number): boolean =>
  demand[i]! >= Math.floor(largest / weight[i]!);

describe('pricing', () => {
  it('tells the most a pattern of each length is worth by its number of rails, where they stand on a stop step', () => {
    let [seen, tight, some] = [0, 0, 0];
    for (let k = 0; k < 60; k++) {
      const random = seeded(`steps ${k}`);
      const step = random.pick([793.75, 1_000, 1_587.5]);
      const joint = random.int(0, 9_000);
      const steps = [...new Set(Array.from({ length: random.int(4, 7) }, () => random.int(120, 500)))];
      const stocks = [random.int(900, 1_600), random.int(500, 900)].map((at) => Math.round(at * step));
      const problem = {
        items: steps.map((at) => ({
          weight: Math.round(at * step + joint),
          demand: random.int(1, 6),
          kind: 0,
        })),
        stocks: stocks.map((stick) => ({ segments: [stick], costs: [stick], supply: null, purchase: null })),
        kinds: null,
        goals: 1,
      };
      const instance = prepare(problem);
      const pricing = StepPricing.of(instance, UNCOUNTED);
      if (!pricing) continue;
      seen++;
      const values = instance.weight.map((w) => Math.round(w / 100) + random.int(0, 400));
      const worth = new Float64Array(2);
      pricing.price(values, worth);
      const all = instance.groups.map(({ segments }) => [
        ...patterns({ ...instance, largest: segments[0]! }, Infinity),
      ]);
      const best = all.map((list) => Math.max(...list.map((counts) => worthOf(values, counts))));
      // Weights are rounded to whole numbers, so that a pattern may just not fit: never less is told.
      worth.forEach((told, s) => {
        expect(told).toBeGreaterThanOrEqual(best[s]!);
        if (told === best[s]) tight++;
      });
      const least = Float64Array.from(best, (most) => 0.9 * most);
      for (const { group, items, counts } of pricing.patterns(least)) {
        const made = new Int32Array(instance.n);
        items.forEach((i, e) => {
          made[i] = counts[e]!;
        });
        expect(all[group]!.some((known) => known.every((count, i) => count === made[i]))).toBe(true);
        expect(worthOf(values, made)).toBeGreaterThan(least[group]!);
        some++;
      }
    }
    expect(seen).toBeGreaterThan(20);
    expect(tight).toBeGreaterThan(1.5 * seen);
    expect(some).toBeGreaterThan(5 * seen);
  });

  it('tells the most a pattern is worth to the single unit of length, and patterns of that worth', () => {
    let scarce = 0;
    for (let k = 0; k < 50; k++) {
      const random = seeded(`exact ${k}`);
      const stick = random.int(60_000, 90_000);
      const sizes = [
        ...new Set(Array.from({ length: random.int(2, 6) }, () => random.int(stick / 6, stick / 2) | 0)),
      ];
      const exact = prepare(
        cuttingStock(
          stick,
          sizes,
          sizes.map(() => random.int(1, 7)),
        ),
      );
      const values = Float64Array.from({ length: exact.n }, () => random.int(0, 9));
      const all = [...patterns(exact, Infinity)];
      const best = Math.max(...all.map((counts) => worthOf(values, counts)));
      // Only a coarse grid asks for this; the unit itself plays no part.
      const pricing = new ExactPricing({ ...exact, unit: 50 }, UNCOUNTED);
      const few = exact.demand.some((_, i) => !plentiful(exact, i));
      for (const least of [best - 1, best + 5, -1]) {
        expect(pricing.price(values, least)).toBe(few ? Math.max(best, least) : best);
      }
      for (const { items, counts } of pricing.patterns(-1)) {
        const made = new Int32Array(exact.n);
        items.forEach((i, e) => {
          made[i] = counts[e]!;
        });
        expect(all.some((known) => known.every((count, i) => count === made[i]))).toBe(true);
        if (items.some((i) => !plentiful(exact, i))) scarce++;
      }
      for (const { items, counts } of pricing.patterns(best - 1)) {
        const made = items.reduce((sum, i, e) => sum + values[i]! * counts[e]!, 0);
        expect(made).toBe(best);
      }
    }
    expect(scarce).toBeGreaterThan(5);
  });

  it('finds the most a pattern is worth, and every pattern above a mark, within the waste allowed', () => {
    let none = 0;
    let tight = 0;
    for (let k = 0; k < 400; k++) {
      const random = seeded(`knapsack ${k}`);
      const stick = random.int(20, 90);
      const sizes = [...new Set(Array.from({ length: random.int(2, 7) }, () => random.int(5, stick)))];
      const instance = prepare(
        cuttingStock(
          stick,
          sizes,
          sizes.map(() => random.int(1, 3)),
        ),
      );
      const values = Float64Array.from({ length: instance.n }, () => random.int(0, 9));
      const waste = random.chance(0.3) ? Infinity : random.int(0, 4);
      const knapsack = new Knapsack(instance);
      knapsack.load(values, instance.demand, waste);
      const allowed = [...patterns(instance, waste)];
      const best = Math.max(-1, ...allowed.map((counts) => worthOf(values, counts)));
      expect(knapsack.upper(instance.largest)).toBe(Math.max(0, best));
      expect(knapsack.search(instance.largest, -1, 1e6)).toBe(best);
      if (best >= 0) {
        expect(allowed.some((counts) => counts.every((count, i) => count === knapsack.found[i]))).toBe(true);
        expect(worthOf(values, knapsack.found)).toBe(best);
      }
      for (let i = 0; i < instance.n; i++) {
        const first = allowed.filter((counts) => counts.findIndex((count) => count > 0) === i);
        const most = Math.max(-1, ...first.map((counts) => worthOf(values, counts)));
        // Without the filler an item of no value is in no pattern.
        if (waste === Infinity && values[i] === 0) continue;
        expect(knapsack.search(instance.largest, -1, 1e6, i)).toBe(most);
        expect(Math.max(-1, knapsack.upperFrom(i, instance.largest))).toBe(most);
      }
      if (best < 0) none++;
      if (waste < Infinity && best >= 0) tight++;
    }
    expect(none).toBeGreaterThan(20);
    expect(tight).toBeGreaterThan(60);
  });
});

describe('a search that must end', () => {
  /** Looked for among more patterns than could be gone through in minutes. */
  function endless(over: (spent: number) => boolean): { spent: number; found: number; complete: boolean } {
    const sizes = Array.from({ length: 40 }, (_, i) => 100 + i);
    const instance = prepare(
      cuttingStock(
        1_500,
        sizes,
        sizes.map(() => 6),
      ),
    );
    let [spent, found] = [0, 0];
    const knapsack = new Knapsack(instance, {
      spend: (units) => {
        spent += units;
      },
      over: () => over(spent),
    });
    knapsack.load(instance.weight, instance.demand);
    const before = spent;
    knapsack.search(instance.largest, -1, 400_000, -1, () => {
      found += 1;
      return true;
    });
    return { spent: spent - before, found, complete: knapsack.complete };
  }

  it('does so soon after it is told, and says that it has not seen everything', () => {
    const all = endless(() => false);
    // Its own budget ends it: every node of that is counted.
    expect(all).toMatchObject({ complete: false });
    expect(all.spent).toBeGreaterThan(400_000);
    const ended = endless(() => true);
    expect(ended.complete).toBe(false);
    expect(ended.found).toBeGreaterThan(0);
    expect(ended.spent).toBeLessThan(5_000);
    // The same work, the same end.
    expect(endless((spent) => spent > 50_000)).toEqual(endless((spent) => spent > 50_000));
  });
});

describe('the fold of a table', () => {
  it('is the greater of two doubles, one of them with a sum added, whatever the length', () => {
    const { table, fold } = foldedTable(60_000)!;
    for (let length = 0; length < 40; length++) {
      const random = seeded(`fold ${length}`);
      for (let k = 0; k < 300; k++) table[k] = random.chance(0.2) ? -Infinity : random.int(-1e12, 1e12);
      const [to, a, b] = [random.int(0, 9), random.int(90, 99), random.int(180, 189)];
      const add = random.int(-1_000, 1_000);
      const before = table.slice(0, 300);
      fold(8 * to, 8 * a, 8 * b, 8 * (to + length), add);
      for (let k = 0; k < length; k++) before[to + k] = Math.max(before[a + k]!, before[b + k]! + add);
      expect(table.slice(0, 300)).toEqual(before);
    }
  });

  it('makes the table of a large instance what the definition says', () => {
    const random = seeded('folded');
    const sizes = [...new Set(Array.from({ length: 60 }, () => random.int(90, 700)))];
    const instance = prepare(
      cuttingStock(
        1_000,
        sizes,
        sizes.map(() => random.int(1, 12)),
      ),
    );
    const values = instance.weight.map((w) => 10 * w + random.int(0, 300));
    const knapsack = new Knapsack(instance);
    knapsack.load(values, instance.demand);
    let best = new Float64Array(instance.largest + 1);
    instance.weight.forEach((w, i) => {
      best = best.map((value, c) => {
        let most = value;
        for (let k = 1; k <= instance.demand[i]! && k * w <= c; k++) {
          most = Math.max(most, best[c - k * w]! + k * values[i]!);
        }
        return most;
      });
    });
    for (let c = 0; c <= instance.largest; c++) expect(knapsack.upper(c)).toBe(best[c]);
  });
});

describe('what a plan can waste', () => {
  it('is no less than any plan of that cost leaves, with two stocks', () => {
    for (let k = 0; k < 300; k++) {
      const random = seeded(`waste ${k}`);
      const lengths = [random.int(20, 60), random.int(61, 99)];
      const costs = [random.int(1, 9), random.int(1, 9)];
      const problem = cuttingStock(
        lengths[1]!,
        [random.int(5, 20), random.int(5, 20)],
        [random.int(1, 6), 2],
      );
      const instance = prepare({
        ...problem,
        stocks: lengths.map((length, s) => ({
          segments: [length],
          costs: [costs[s]!],
          supply: null,
          purchase: null,
        })),
      });
      const pieces = instance.groups.map(() => random.int(0, 4));
      const goal = {
        cost: instance.groups.map((group) => costs[group.members[0]!]!),
        rows: [],
        unmade: null,
      };
      const cost = pieces.reduce((sum, p, s) => sum + p * goal.cost[s]!, 0);
      const held = pieces.reduce((sum, p, s) => sum + p * instance.groups[s]!.segments[0]!, 0);
      const made = instance.weight.reduce((sum, w, i) => sum + w * instance.demand[i]!, 0);
      const spare = random.int(0, 3);
      expect(wasteWithin(instance, goal, instance.demand, cost + spare)).toBeGreaterThanOrEqual(held - made);
    }
  });
});
