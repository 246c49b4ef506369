/** Optima that no rounded-up bound reaches, against a search of our own that tries every packing without waste. */
import { describe, expect, it } from 'vitest';
import { aroundCore, aroundSix, grownCore } from '../../bench/tools/cores.js';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { serves, usage } from '../../src/solve/columns/columns.js';
import { createEngine } from '../../src/solve/engine.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';
import type { Problem } from '../../src/solve/problem.js';
import { randomOf } from '../../src/solve/random.js';
import { PairSearch } from '../../src/solve/search/branch.js';
import { certainSticks } from '../../src/solve/search/tight/certain.js';
import { PlanDrawing } from '../../src/solve/search/tight/drawing.js';
import { peeledAside } from '../../src/solve/search/tight/laid-aside.js';
import { ListedShares } from '../../src/solve/search/tight/listed-shares.js';
import { EvenShares } from '../../src/solve/search/tight/shares.js';
import { solveChecked } from './checked.js';
import { lying } from './lying.js';

const engine = createEngine({ highs: highsRuntime });

const watch = watchOf({ now: () => performance.now(), deadline: performance.now() + 1e9 });

/** Whether the rails fill sticks to the end, with nothing left over: stick by stick, the longest rail left first. */
function fillsUp({ items, stocks }: Problem): boolean {
  const stick = stocks[0]!.segments[0]!;
  const rails = items.flatMap(({ weight, demand }) => Array.from({ length: demand }, () => weight));
  rails.sort((a, b) => b - a);
  const used = rails.map(() => false);
  const next = (from: number, room: number): boolean => {
    if (room === 0) {
      const lead = used.indexOf(false);
      if (lead < 0) return true;
      used[lead] = true;
      const done = next(lead + 1, stick - rails[lead]!);
      used[lead] = false;
      return done;
    }
    for (let i = from; i < rails.length; i++) {
      if (used[i] || rails[i]! > room || (rails[i] === rails[i - 1] && i > from && !used[i - 1])) continue;
      used[i] = true;
      const done = next(i + 1, room - rails[i]!);
      used[i] = false;
      if (done) return true;
    }
    return false;
  };
  return next(0, 0);
}

describe('a core that needs one stick more than its fraction', () => {
  it('is proven, where it does and where it does not', () => {
    const values = new Map<number, number>();
    for (let i = 0; i < 24; i++) {
      const problem = aroundCore(`core ${i}`, i % 2 === 0 ? 300 : 2500, 0);
      const optimum = fillsUp(problem) ? 5 : 6;
      const outcome = solveChecked(engine, problem);
      if (outcome.kind !== 'solved') throw new Error(outcome.kind);
      expect(outcome.proofs).toEqual([{ status: 'optimal', value: optimum, bound: optimum }]);
      values.set(optimum, 1 + (values.get(optimum) ?? 0));
    }
    expect(values.get(5) ?? 0).toBeGreaterThan(0);
    expect(values.get(6) ?? 0).toBeGreaterThan(5);
  });

  it('is proven among 150 rails', () => {
    const outcome = solveChecked(engine, aroundCore('a large core', 2500, 45), { ms: 120_000 });
    expect(outcome.kind === 'solved' && outcome.proofs[0]?.status).toBe('optimal');
  }, 130_000);
});

describe('sticks that are certain', () => {
  /** Every plan that wastes at most so much in all: the lengths on each stick, the longest rail left first. */
  function* plans(rails: readonly number[], stick: number, waste: number): Generator<string[]> {
    const lead = rails[0];
    if (lead === undefined) {
      yield [];
      return;
    }
    const seen = new Set<string>();
    for (let mask = 0; mask < 2 ** (rails.length - 1); mask++) {
      const chosen = rails.filter((_, k) => k === 0 || ((mask >> (k - 1)) & 1) === 1);
      const left = stick - chosen.reduce((sum, w) => sum + w, 0);
      const key = chosen.join();
      if (left < 0 || left > waste || seen.has(key)) continue;
      seen.add(key);
      const rest = rails.filter((_, k) => k > 0 && ((mask >> (k - 1)) & 1) === 0);
      for (const plan of plans(rest, stick, waste - left)) yield [key, ...plan];
    }
  }

  it('are in every plan, and there is none where none is said to be', () => {
    const random = seeded('certain');
    const seen = { none: 0, some: 0, open: 0 };
    for (let k = 0; k < 120; k++) {
      const sticks = random.int(1, 4);
      const waste = random.int(0, 3);
      const rails = Array.from({ length: sticks }, () => {
        const a = random.int(8, 20);
        const b = random.int(4, 28 - a);
        return [a, b, 30 - a - b];
      }).flat();
      // Now and then the rails do not come to whole sticks.
      if (random.chance(0.3)) rails[0] = random.int(2, 30);
      rails.sort((a, b) => b - a);
      const demand = new Map<number, number>();
      for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
      const problem = cuttingStock(30, [...demand.keys()], [...demand.values()]);
      const instance = prepare(problem);
      // Lengths with a common divisor are divided by it.
      if (instance.largest !== 30) continue;
      const certain = certainSticks(instance, waste, watch);
      const all = [...plans(rails, 30, waste)];
      if (certain.none) expect(all).toEqual([]);
      const held = certain.sticks.map(({ items, counts }) =>
        [...items].flatMap((i, e) => Array.from({ length: counts[e]! }, () => instance.weight[i]!)).join(),
      );
      for (const plan of all) expect(plan).toEqual(expect.arrayContaining(held));
      seen[certain.none ? 'none' : held.length > 0 ? 'some' : 'open']++;
    }
    expect(Math.min(seen.none, seen.some, seen.open)).toBeGreaterThan(10);
  });

  it('leave the core of 180 rails that need a stick more, and of 180 that do not', () => {
    for (const whole of [false, true]) {
      const problem = grownCore('a grown core', { rails: 180, stick: 4000, whole, parted: 'no' });
      const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
      const optimum = length / 4000 + (whole ? 0 : 1);
      const outcome = solveChecked(engine, problem, { ms: 60_000 });
      if (outcome.kind !== 'solved') throw new Error(outcome.kind);
      expect(outcome.proofs).toEqual([{ status: 'optimal', value: optimum, bound: optimum }]);
    }
  }, 70_000);

  it('leave the core with a rail parted in two, once the flexible rails are laid aside', () => {
    const problem = grownCore('a parted core', {
      rails: 165,
      stick: 4000,
      whole: false,
      parted: 'with a plan',
    });
    const instance = prepare(problem);
    expect(certainSticks(instance, 0, watch).sticks.length).toBeLessThan(27);
    const lists = peeledAside(instance, 0, watch);
    expect(lists[0]!.length).toBeGreaterThan(40);
    for (const sticks of lists) {
      const left = instance.demand.slice();
      for (const { items, counts } of sticks) {
        let room = instance.largest;
        items.forEach((i, e) => {
          left[i]! -= counts[e]!;
          room -= counts[e]! * instance.weight[i]!;
        });
        expect(room).toBe(0);
      }
      expect(Math.min(...left)).toBeGreaterThanOrEqual(0);
    }
    const outcome = solveChecked(engine, problem, { ms: 60_000 });
    expect(outcome.kind === 'solved' && outcome.proofs).toEqual([
      { status: 'optimal', value: 53, bound: 53 },
    ]);
  }, 70_000);
});

describe('the search over pairs', () => {
  it('finds a packing without waste exactly when there is one, also when it is stopped and goes on', async () => {
    const highs = highsLp(highsRuntime);
    const random = seeded('pairs');
    const seen = new Set<string>();
    for (let k = 0; k < 60; k++) {
      const problem =
        k % 3 === 0
          ? aroundCore(`pairs ${k}`, 2500, 0)
          : cuttingStock(100, ...distinct(random.int(6, 14), () => random.int(11, 60)));
      const instance = prepare(problem);
      const goal = { cost: [1], rows: [], unmade: null };
      const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
      const mark = Math.floor(length / problem.stocks[0]!.segments[0]!);
      const search = new PairSearch([k % 2 === 0 ? simplexLp : highs], instance, goal, [], mark, watch);
      let answer = search.run(watch, 1);
      while (answer.status === 'limit') answer = search.run(watch, 3);
      search.dispose();
      const whole = length % problem.stocks[0]!.segments[0]! === 0;
      expect(answer.status).toBe(whole && fillsUp(problem) ? 'found' : 'infeasible');
      if (answer.plan) {
        expect(serves(instance, answer.plan)).toBe(true);
        expect(usage(instance, answer.plan)[0]).toBe(mark);
      }
      seen.add(answer.status);
    }
    expect([...seen].sort()).toEqual(['found', 'infeasible']);
  });

  it('draws a plan stick by stick', () => {
    const problem = aroundSix('drawn', { rails: 180, stick: 1000, long: false, parted: true });
    const instance = prepare(problem);
    const goal = { cost: [1], rows: [], unmade: null };
    const mark = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0) / 1000;
    const drawing = new PlanDrawing([simplexLp], instance, goal, randomOf(1), watch);
    expect(drawing.hope).toBe('plans abound');
    let made = drawing.run(watch);
    for (let more = 0; more < 5 && !made; more++) made = drawing.run(watch);
    expect(made && serves(instance, made)).toBe(true);
    expect(usage(instance, made!)[0]).toBe(mark);
  });

  it('shares out fillings so that every rail comes to what is needed, as all fillings one by one do', () => {
    const random = seeded('even shares');
    for (let k = 0; k < 12; k++) {
      const demand = new Map<number, number>();
      for (let stick = 0; stick < 4; stick++) {
        const a = random.int(30, 50);
        const b = random.int(11, 40);
        for (const rail of [a, b, 100 - a - b - random.int(0, 5)])
          demand.set(rail, 1 + (demand.get(rail) ?? 0));
      }
      const weights = [...demand.keys()].sort((a, b) => b - a);
      const counts = weights.map((weight) => demand.get(weight)!);
      const instance = prepare(cuttingStock(100, weights, counts));
      if (instance.largest !== 100) continue;
      const shares = new EvenShares(instance, { spend: () => undefined });
      expect(shares.settle(400)).toBe(true);
      const length = weights.reduce((sum, w, i) => sum + w * counts[i]!, 0);
      const over = 100 * shares.left - length;
      const made = new Float64Array(weights.length);
      const total = { share: 0, over: 0 };
      const next = (i: number, room: number, share: number, held: readonly number[]): void => {
        if (i === weights.length) {
          if (room > over) return;
          const whole = share * shares.overFactor ** room;
          total.share += whole;
          total.over += whole * room;
          held.forEach((count, j) => {
            made[j]! += whole * count;
          });
          return;
        }
        for (let c = 0; c <= counts[i]! && c * weights[i]! <= room; c++)
          next(i + 1, room - c * weights[i]!, share * shares.factor[i]! ** c, [...held, c]);
      };
      next(0, 100, 1, []);
      expect(total.share).toBeCloseTo(shares.left, 1);
      expect(Math.abs(total.over - over)).toBeLessThan(0.5);
      for (const [i, count] of counts.entries()) expect(made[i]).toBeCloseTo(count, 1);
      for (const { items } of shares.draw(50, randomOf(k))) {
        const used = items.reduce((sum, i) => sum + weights[i]!, 0);
        expect(used).toBeLessThanOrEqual(100);
        expect(used).toBeGreaterThanOrEqual(100 - over);
      }
    }
  });

  it('lists likely fillings, whose shares tell the number of plans more nearly', () => {
    const random = seeded('likely fillings');
    const off = { even: 0, likely: 0, seen: 0 };
    while (off.seen < 12) {
      const rails = new Set<number>();
      while (rails.size < 18) {
        const three = [random.int(20, 60), random.int(21, 60)];
        three.push(101 - three[0]! - three[1]!);
        if (new Set([...three, ...rails]).size < rails.size + 3 || Math.min(...three) < 8) continue;
        for (const rail of three) rails.add(rail);
      }
      const weights = [...rails].sort((a, b) => b - a);
      const instance = prepare(cuttingStock(101, weights, Array<number>(18).fill(1)));
      // Every filling and the number of all plans, from the definition.
      const fillings: number[][] = [];
      const fill = (from: number, room: number, held: number[]): void => {
        if (room === 0) fillings.push(held);
        for (let i = from; i < 18; i++)
          if (weights[i]! <= room) fill(i + 1, room - weights[i]!, [...held, i]);
      };
      fill(0, 101, []);
      const plans = (used: ReadonlySet<number>): number => {
        const lead = weights.findIndex((_, i) => !used.has(i));
        if (lead < 0) return 1;
        return fillings
          .filter((held) => held.includes(lead) && !held.some((i) => used.has(i)))
          .reduce((sum, held) => sum + plans(new Set([...used, ...held])), 0);
      };
      const shares = new EvenShares(instance, { spend: () => undefined });
      if (!shares.settle(200)) continue;
      const weightOf = (held: readonly number[]): number =>
        held.reduce((product, i) => product * shares.factor[i]!, 1);
      for (const least of [0.3, 0.02]) {
        const listed = shares.list(least)!;
        const keys = listed.map(({ items }) => items.join()).sort();
        // A share at the border may be on either side: weights are rounded.
        const above = (border: number): string[] =>
          fillings.filter((held) => weightOf(held) >= border).map((held) => held.join());
        expect(keys).toEqual(expect.arrayContaining(above(1.02 * least)));
        expect(above(0.98 * least)).toEqual(expect.arrayContaining(keys));
        for (const { items, share } of listed) expect(share / weightOf(items)).toBeCloseTo(1, 1);
      }
      const whole = Math.log(plans(new Set()));
      off.even += Math.abs(shares.plans - whole);
      const all = new ListedShares(shares.list(1e-6)!, shares.state, shares.left, false, watch);
      off.likely += Math.abs(all.plans - whole);
      off.seen++;
    }
    expect(off.likely).toBeLessThan(0.8 * off.even);
  });

  it('claims nothing from a library whose values and duals are wrong', async () => {
    const highs = highsRuntime();
    let packed = 0;
    for (let k = 0; k < 40; k++) {
      const random = seeded(`lying ${k}`);
      const problem = aroundCore(`lying ${k}`, k % 2 === 0 ? 300 : 2500, k % 3);
      const instance = prepare(problem);
      const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
      const mark = Math.floor(length / problem.stocks[0]!.segments[0]!);
      const search = new PairSearch(
        [highsLp(() => lying(highs, random))],
        instance,
        { cost: [1], rows: [], unmade: null },
        [],
        mark,
        watch,
      );
      const { status } = search.run(watch, 400);
      search.dispose();
      if (!fillsUp(problem)) continue;
      packed++;
      expect(status).not.toBe('infeasible');
    }
    expect(packed).toBeGreaterThan(5);
  });

  function distinct(count: number, draw: () => number): [number[], number[]] {
    const sizes = new Set<number>();
    while (sizes.size < count) sizes.add(draw());
    return [[...sizes], [...sizes].map(() => 1)];
  }
});
