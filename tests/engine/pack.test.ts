/** Packing to given numbers of pieces, checked from the definition and against every way there is. */
import { describe, expect, it } from 'vitest';
import { type Random, seeded } from '../../bench/tools/random.js';
import { functionBound, secondBound } from '../../src/solve/bounds/bound.js';
import { roomiest, targets } from '../../src/solve/bounds/targets.js';
import { fullest, weightDuals } from '../../src/solve/bounds/weight-duals.js';
import { type Cutting, lengthOf, serves, usage } from '../../src/solve/columns/columns.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import type { SearchGoal } from '../../src/solve/instance/goal.js';
import { type Instance, prepare, refined } from '../../src/solve/instance/instance.js';
import { UNCOUNTED } from '../../src/solve/instance/watch.js';
import { closePack } from '../../src/solve/packing/close-pack.js';
import { assemble, binsOf, Packer } from '../../src/solve/packing/pack.js';
import { summing } from '../../src/solve/packing/refill/best-sum.js';
import { Refiller } from '../../src/solve/packing/refill/refiller.js';
import { Subset } from '../../src/solve/packing/refill/subset.js';
import { Repacker } from '../../src/solve/packing/repack.js';
import { closeRest } from '../../src/solve/packing/residual.js';
import { randomOf } from '../../src/solve/random.js';

interface Shape {
  readonly items: readonly (readonly [weight: number, demand: number])[];
  readonly stocks: readonly (readonly [segments: readonly number[], cost: number, supply: number | null])[];
}

function instanceOf({ items, stocks }: Shape): Instance {
  return prepare({
    items: items.map(([weight, demand]) => ({ weight, demand, kind: 0 })),
    stocks: stocks.map(([segments, cost, supply]) => ({ segments, costs: [cost], supply, purchase: null })),
    kinds: null,
    goals: 1,
  });
}

function goalOf(instance: Instance, { stocks }: Shape): SearchGoal {
  return { cost: instance.groups.map((group) => stocks[group.members[0]!]![1]), rows: [], unmade: null };
}

function randomShape(random: Random): Shape {
  const weights = new Set<number>();
  while (weights.size < random.int(2, 4)) weights.add(random.int(3, 12));
  return {
    items: [...weights].map((weight) => [weight, random.int(1, 3)] as const),
    stocks: Array.from({ length: random.int(1, 2) }, () => [
      random.chance(0.3) ? [random.int(5, 12), random.int(5, 12)] : [random.int(12, 24)],
      random.int(1, 9),
      random.chance(0.3) ? random.int(1, 3) : null,
    ]),
  };
}

/** Whether everything fits into these bins, by trying each rail in each bin. */
function packs(instance: Instance, pieces: Float64Array): boolean {
  const rails = [...instance.weight].flatMap((w, i) => Array.from({ length: instance.demand[i]! }, () => w));
  const rooms = instance.groups.flatMap((group, s) =>
    Array.from({ length: pieces[s]! }, () => [...group.segments]).flat(),
  );
  const place = (at: number): boolean => {
    if (at === rails.length) return true;
    const seen = new Set<number>();
    for (let b = 0; b < rooms.length; b++) {
      if (rooms[b]! < rails[at]! || seen.has(rooms[b]!)) continue;
      seen.add(rooms[b]!);
      rooms[b]! -= rails[at]!;
      const done = place(at + 1);
      rooms[b]! += rails[at]!;
      if (done) return true;
    }
    return false;
  };
  return place(0);
}

function expectHolds(instance: Instance, plan: readonly Cutting[], pieces: Float64Array): void {
  expect(serves(instance, plan)).toBe(true);
  usage(instance, plan).forEach((used, s) => {
    expect(used).toBeLessThanOrEqual(pieces[s]!);
  });
  for (const { column } of plan) {
    column.parts.forEach((part, k) => {
      expect(lengthOf(instance, part)).toBeLessThanOrEqual(instance.groups[column.group]!.segments[k]!);
    });
  }
}

/** Every vector of pieces up to `most` of each group. */
function* vectors(instance: Instance, most: number): Generator<Float64Array> {
  const tops = instance.groups.map((group) => Math.min(group.supply, most));
  const at = new Float64Array(tops.length);
  for (;;) {
    yield at.slice();
    let s = 0;
    while (s < tops.length && at[s] === tops[s]) at[s++] = 0;
    if (s === tops.length) return;
    at[s]!++;
  }
}

describe('sticks filled and filled again', () => {
  /** Sticks parted into so many rails of at least `least`, so that nothing need be wasted. */
  const parted = (name: string, sticks: number, stick: number, [from, to]: readonly [number, number]) => {
    const random = seeded(name);
    const demand = new Map<number, number>();
    for (let s = 0; s < sticks; s++) {
      const parts = random.int(from, to);
      let room = stick;
      for (let k = parts; k > 0; k--) {
        const least = Math.floor((0.7 * room) / k);
        const length = k === 1 ? room : random.int(least, Math.floor((1.3 * room) / k));
        demand.set(length, (demand.get(length) ?? 0) + 1);
        room -= length;
      }
    }
    return instanceOf({ items: [...demand], stocks: [[[stick], 1, null]] });
  };

  it('hold all rails, to the last unit and with a little to spare', () => {
    let [perfect, spare] = [0, 0];
    for (let k = 0; k < 10; k++) {
      const [triplets, mixed] = [parted(`t ${k}`, 50, 1_000, [3, 3]), parted(`m ${k}`, 40, 150, [2, 5])];
      for (const [instance, sticks] of [
        [triplets, 50],
        [mixed, 41],
      ] as const) {
        const repacker = new Repacker(instance, randomOf(k), UNCOUNTED);
        const fillings = repacker.pack(sticks) ?? repacker.repack();
        expect(repacker.pack(sticks - 2)).toBeNull();
        if (!fillings) continue;
        expectHolds(instance, assemble(instance, fillings), Float64Array.of(sticks));
        if (instance === triplets) perfect++;
        else spare++;
      }
    }
    expect(perfect).toBeGreaterThan(4);
    expect(spare).toBe(10);
  });

  it('are no fewer than what bounds by functions say, on 300 small problems', () => {
    let better = 0;
    for (let k = 0; k < 300; k++) {
      const random = seeded(`functions ${k}`);
      const weights = new Set(Array.from({ length: 6 }, () => random.int(5, 28)));
      const items = [...weights].map((weight) => [weight, random.int(1, 2)] as const);
      const instance = instanceOf({ items, stocks: [[[30], 1, null]] });
      const bound = Math.max(functionBound(instance), secondBound(instance));
      if (secondBound(instance) > functionBound(instance)) better++;
      if (bound > 0) expect(packs(instance, Float64Array.of(bound - 1))).toBe(false);
    }
    expect(better).toBeGreaterThan(0);
  });

  it('has the bounds that the papers define, in whatever order the items stand', () => {
    const ceil = (total: number, full: number): number => Math.ceil(total / full);
    for (let k = 0; k < 200; k++) {
      const random = seeded(`by definition ${k}`);
      const weights = [...new Set(Array.from({ length: 8 }, () => random.int(3, 90)))];
      const items = weights.map((weight) => [weight, random.int(1, 5)] as const);
      const instance = instanceOf({ items, stocks: [[[100], 1, null]] });
      const { largest: c } = instance;
      const all = [...instance.weight].flatMap((w, i) => Array<number>(instance.demand[i]!).fill(w));
      const sum = (value: (w: number) => number): number => all.reduce((total, w) => total + value(w), 0);
      // L2: Martello and Toth 1990; u^(k): Fekete and Schepers 2001.
      const two = [0, ...all.filter((t) => 2 * t <= c)].map((t) =>
        ceil(
          sum((w) => (w > c - t ? c : w >= t ? w : 0)),
          c,
        ),
      );
      const rounded = Array.from({ length: 60 }, (_, i) => i + 1).map((steps) =>
        ceil(
          sum((w) => (((steps + 1) * w) % c === 0 ? steps * w : Math.floor(((steps + 1) * w) / c) * c)),
          steps * c,
        ),
      );
      const bound = Math.max(...two, ...rounded);
      expect(functionBound(instance)).toBe(bound);
      const turned = {
        ...instance,
        kinds: { start: [0], joint: [[0]] },
        weight: instance.weight.toReversed(),
        demand: instance.demand.toReversed(),
      };
      expect(functionBound(turned)).toBe(bound);
    }
  });
});

describe('rails on a stop step', () => {
  const STEP = 793.75;
  const order = (name: string, joint: number, sticks: readonly number[] = [3_637_156]): Instance => {
    const random = seeded(name);
    const lengths = [...new Set(Array.from({ length: 150 }, () => random.int(300, 1_100)))];
    const items = lengths.map((steps) => [Math.round(steps * STEP) + joint, random.int(1, 9)] as const);
    return instanceOf({ items, stocks: sticks.map((stick) => [[stick], stick, null] as const) });
  };

  it('are packed into pieces that leave less than a step each, and into two lengths', () => {
    const stick = 3_637_156;
    for (let k = 0; k < 8; k++) {
      const name = `packed ${k}`;
      const instance = k < 4 ? order(name, 4_955) : order(name, 4_955, [stick, 2_400_000]);
      const need = instance.weight.reduce((sum, w, i) => sum + w * instance.demand[i]!, 0);
      const second = k < 4 ? [] : [2];
      const left = need - second.reduce((sum, pieces) => sum + 2_400_000 * pieces, 0);
      const pieces = Float64Array.of(Math.ceil((left / stick) * 1.0001), ...second);
      const plan = new Refiller(instance, randomOf(k), UNCOUNTED).attempt(pieces);
      expect(plan).not.toBeNull();
      expectHolds(instance, plan!, pieces);
    }
  });

  it('are not packed where the pieces hold less than that, and what was filled are true patterns', () => {
    const instance = order('short', 0);
    const need = instance.weight.reduce((sum, w, i) => sum + w * instance.demand[i]!, 0);
    const pieces = Float64Array.of(Math.floor(need / 3_637_156));
    expect(new Refiller(instance, randomOf(1), UNCOUNTED).attempt(pieces)).toBeNull();
    // By length they would fit, but two rails fill a stick: no third one does.
    const items = Array.from({ length: 60 }, (_, k) => [1_400_000 + k * 1_000, 2] as const);
    const pairs = instanceOf({ items, stocks: [[[3_637_156], 1, null]] });
    const failed = new Refiller(pairs, randomOf(1), UNCOUNTED);
    expect(failed.attempt(Float64Array.of(50))).toBeNull();
    expect(failed.filled.length).toBeGreaterThan(40);
    const used = new Int32Array(pairs.n);
    for (const { fill, times } of failed.filled) {
      expect(lengthOf(pairs, fill)).toBeLessThanOrEqual(pairs.largest);
      fill.items.forEach((i, e) => {
        used[i]! += times * fill.counts[e]!;
      });
    }
    used.forEach((count, i) => {
      expect(count).toBeLessThanOrEqual(pairs.demand[i]!);
    });
  });
});

describe('a subset of a few weights', () => {
  it.each(['quickly', 'plainly'])('%s fills a room best, as all subsets tell', (how) => {
    const random = seeded('subset');
    if (how === 'quickly') expect(summing()).not.toBeNull();
    const subset = how === 'quickly' ? new Subset() : new Subset(null);
    for (let k = 0; k < 200; k++) {
      const count = random.int(0, 11);
      const weights = Float64Array.from({ length: 22 }, () => random.int(1, 60));
      const room = random.int(0, 150);
      let most = 0;
      for (let mask = 0; mask < 1 << count; mask++) {
        let sum = 0;
        for (let e = 0; e < count; e++) if ((mask >> e) & 1) sum += weights[e]!;
        if (sum <= room) most = Math.max(most, sum);
      }
      expect(subset.best(weights, count, room)).toBe(most);
      let held = 0;
      for (let e = 0; e < count; e++) if (subset.holds(e)) held += weights[e]!;
      expect(held).toBe(most);
    }
  });

  it('is the same with and without WebAssembly, also of 22 long weights and where no room is left', () => {
    const random = seeded('two ways');
    const [quickly, plainly] = [new Subset(), new Subset(null)];
    for (let k = 0; k < 2000; k++) {
      const count = random.int(0, 22);
      const longest = random.pick([60, 1000, 40_000_000]);
      const weights = Float64Array.from({ length: 22 }, () => random.int(1, longest));
      const room = random.int(-3, (longest * count) / 2);
      expect(quickly.best(weights, count, room)).toBe(plainly.best(weights, count, room));
      expect(quickly.spent).toBe(plainly.spent);
      for (let e = 0; e < count; e++) expect(quickly.holds(e)).toBe(plainly.holds(e));
    }
  });
});

describe('closing the last bins', () => {
  it('packs exactly when there is a packing, on 400 small problems', () => {
    const random = seeded('closing');
    let some = 0;
    for (let k = 0; k < 400; k++) {
      const instance = instanceOf(randomShape(random));
      const pieces = Float64Array.from(instance.groups, (group) => Math.min(group.supply, random.int(0, 3)));
      const bins = binsOf(instance, pieces);
      const needed = instance.weight.reduce((sum, w, i) => sum + w * instance.demand[i]!, 0);
      const slack = bins.reduce((sum, bin) => sum + bin.left * bin.type.capacity, -needed);
      const { fillings, cut } = closePack(instance, instance.demand, bins, slack, 1e6);
      expect(cut).toBe(false);
      expect(fillings !== null).toBe(packs(instance, pieces));
      if (fillings) some++;
    }
    expect(some).toBeGreaterThan(50);
    expect(some).toBeLessThan(350);
  });

  it('says when it was cut short', () => {
    const instance = instanceOf({
      items: [
        [7, 3],
        [6, 3],
        [5, 4],
        [4, 3],
      ],
      stocks: [[[20], 1, null]],
    });
    const bins = binsOf(instance, Float64Array.of(4));
    expect(closePack(instance, instance.demand, bins, 9, 3)).toMatchObject({ fillings: null, cut: true });
  });

  it('keeps to what a dive has used, and to the mark', () => {
    const random = seeded('rest of a dive');
    let some = 0;
    for (let k = 0; k < 300; k++) {
      const shape = randomShape(random);
      const instance = instanceOf(shape);
      const goal = goalOf(instance, shape);
      const used = Float64Array.from(instance.groups, (group) => (group.supply === Infinity ? 4 : 1));
      const below = random.int(2, 40);
      const plan = closeRest(instance, goal, instance.demand, used, below);
      if (!plan) continue;
      some++;
      const left = Float64Array.from(instance.groups, (group, s) => group.supply - used[s]!);
      expectHolds(instance, plan, left);
      expect(usage(instance, plan).reduce((sum, n, s) => sum + n * goal.cost[s]!, 0)).toBeLessThan(below);
    }
    expect(some).toBeGreaterThan(50);
  });
});

describe('numbers of pieces', () => {
  it('bound every packing from below, and hold what they promise', () => {
    const random = seeded('targets');
    let tight = 0;
    for (let k = 0; k < 300; k++) {
      const shape = randomShape(random);
      const instance = instanceOf(shape);
      const goal = goalOf(instance, shape);
      const holds = fullest(instance, new Knapsack(instance));
      const { list, bound } = targets(instance, goal, holds, Infinity, 100);
      let best = Infinity;
      for (const pieces of vectors(instance, 8)) {
        const cost = pieces.reduce((sum, n, s) => sum + n * goal.cost[s]!, 0);
        if (cost < best && packs(instance, pieces)) best = cost;
      }
      expect(bound).toBeLessThanOrEqual(best);
      if (bound === best) tight++;
      const needed = instance.weight.reduce((sum, w, i) => sum + w * instance.demand[i]!, 0);
      list.forEach(({ pieces, cost, slack }, at) => {
        expect(pieces.reduce((sum, n, s) => sum + n * holds[s]!, 0) - needed).toBe(slack);
        expect(pieces.reduce((sum, n, s) => sum + n * goal.cost[s]!, 0)).toBe(cost);
        expect(slack).toBeGreaterThan(list[at - 1]?.slack ?? -1);
        expect(cost).toBeGreaterThan(list[at - 1]?.cost ?? -1);
      });
    }
    expect(tight).toBeGreaterThan(100);
  });

  it('stay within the rows of goals that are held', () => {
    // Six rails at three and two a stick: three short sticks would be cheapest, but the row allows two of them at most.
    const shape: Shape = {
      items: [[10, 6]],
      stocks: [
        [[30], 5, null],
        [[20], 3, null],
      ],
    };
    const instance = instanceOf(shape);
    const free = targets(instance, goalOf(instance, shape), Float64Array.of(3, 2), Infinity, 100);
    expect([...free.list[0]!.pieces]).toEqual([0, 3]);
    const goal: SearchGoal = { ...goalOf(instance, shape), rows: [{ weights: [1, 2], limit: 4 }] };
    const { list, bound } = targets(instance, goal, Float64Array.of(3, 2), Infinity, 100);
    expect(list.map(({ pieces }) => [...pieces])).toEqual([
      [2, 0],
      [2, 1],
      // By length two would do; with waste in the fillings a third may be needed.
      [3, 0],
    ]);
    expect(bound).toBe(10);
  });

  it('say nothing where a group costs nothing and never ends', () => {
    const shape: Shape = { items: [[10, 6]], stocks: [[[30], 0, null]] };
    const instance = instanceOf(shape);
    expect(targets(instance, goalOf(instance, shape), Float64Array.of(30), Infinity, 9)).toEqual({
      list: [],
      bound: 0,
    });
  });
});

describe('duals by length', () => {
  it('are never worth more than a piece of each group is said to be', () => {
    const random = seeded('weight duals');
    for (let k = 0; k < 300; k++) {
      const shape = randomShape(random);
      const instance = instanceOf(shape);
      const knapsack = new Knapsack(instance);
      const duals = weightDuals(instance, goalOf(instance, shape), fullest(instance, knapsack));
      if (!duals) continue;
      knapsack.load(duals.item, instance.demand);
      instance.groups.forEach(({ segments }, s) => {
        const worth = segments.reduce((sum, c) => sum + Math.max(0, knapsack.search(c, 0, 1e6)), 0);
        expect(worth).toBeLessThanOrEqual(duals.worth[s]!);
      });
    }
  });
});

describe('packing', () => {
  it('holds what it says, on problems of many lengths and flawed pieces', () => {
    const random = seeded('packing');
    let packed = 0;
    for (let k = 0; k < 40; k++) {
      const step = 31;
      const shape: Shape = {
        items: Array.from({ length: random.int(12, 40) }, () => [
          step * random.int(150, 700) + 7,
          random.int(1, 12),
        ]),
        stocks: [
          [[step * 2500], 100, null],
          [[step * 1900, step * 500], 90, random.int(1, 4)],
        ],
      };
      const instance = instanceOf(shape);
      const goal = goalOf(instance, shape);
      const holds = fullest(instance, new Knapsack(instance));
      const packer = new Packer(instance, randomOf(k));
      for (const { pieces } of targets(instance, goal, holds, Infinity, 6).list) {
        const plan = packer.attempt(pieces);
        if (!plan) continue;
        packed++;
        expectHolds(instance, plan, pieces);
      }
    }
    expect(packed).toBeGreaterThan(40);
  });

  it('does not pack more than there is room for', () => {
    const instance = instanceOf({ items: [[10, 7]], stocks: [[[30], 1, null]] });
    expect(new Packer(instance, randomOf(1)).attempt(Float64Array.of(2))).toBeNull();
    expect(new Packer(instance, randomOf(1)).attempt(Float64Array.of(3))).not.toBeNull();
  });
});

describe('a finer grid', () => {
  it('bounds no pattern too low and rarely too high', () => {
    const random = seeded('finer grid');
    const weights = Array.from({ length: 60 }, () => Math.round(793.75 * random.int(300, 1300) + 4955.2));
    const instance = instanceOf({
      items: weights.map((w) => [w, 4] as const),
      stocks: [[[3_637_156], 1, null]],
    });
    const fine = refined(instance);
    expect(fine).not.toBeNull();
    const coarse = new Knapsack(instance);
    const sharp = new Knapsack(fine!);
    const values = instance.weight.map((w) => Math.floor(w * (1 + 0.02 * random.int(0, 10))));
    coarse.load(values, instance.demand);
    sharp.load(values, instance.demand);
    const found = sharp.search(3_637_156, 0, 1e6);
    expect(sharp.upper(3_637_156)).toBeGreaterThanOrEqual(found);
    expect(sharp.upper(3_637_156)).toBeLessThanOrEqual(coarse.upper(3_637_156));
  });
});

describe('the most room for the money', () => {
  it('is what trying every number of pieces finds', () => {
    const random = seeded('roomiest');
    for (let k = 0; k < 300; k++) {
      const shape = randomShape(random);
      const instance = instanceOf(shape);
      const goal = goalOf(instance, shape);
      const holds = Float64Array.from(instance.groups, (group) => group.segments.reduce((a, b) => a + b, 0));
      const mark = random.int(0, 16);
      let most = 0;
      for (const pieces of vectors(instance, 16)) {
        const cost = pieces.reduce((sum, n, s) => sum + n * goal.cost[s]!, 0);
        if (cost <= mark)
          most = Math.max(
            most,
            pieces.reduce((sum, n, s) => sum + n * holds[s]!, 0),
          );
      }
      expect(roomiest(instance, goal, holds, mark)).toBe(most);
    }
  });
});
