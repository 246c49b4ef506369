/** Plans drawn from listed fillings: shares, exact cover of the last rails, and whole drawings, held to the definition. */
import { describe, expect, it } from 'vitest';
import { aroundSix } from '../../bench/tools/cores.js';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { serves, usage } from '../../src/solve/columns/columns.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';
import { randomOf } from '../../src/solve/random.js';
import { coverOf } from '../../src/solve/search/tight/cover.js';
import { PlanDrawing } from '../../src/solve/search/tight/drawing.js';
import { ListedShares } from '../../src/solve/search/tight/listed-shares.js';
import { EvenShares } from '../../src/solve/search/tight/shares.js';

const watch = watchOf({ now: () => 0, deadline: 1 });
const STICK = 100;

/** A few rails, some alike, that fill their sticks but for a little, or so that nobody knows. */
function few(name: string, whole: boolean): { weights: number[]; counts: number[]; over: number } {
  const random = seeded(name);
  const demand = new Map<number, number>();
  const sticks = 4;
  for (let stick = 0; stick < sticks; stick++) {
    const [a, b] = [random.int(30, 50), random.int(11, 40)];
    const c = STICK - a - b - random.int(0, 1);
    for (const rail of [a, b, c]) demand.set(rail, 1 + (demand.get(rail) ?? 0));
  }
  if (!whole) {
    const [longest] = [...demand.keys()].sort((a, b) => b - a);
    demand.set(longest! + 1, 1 + (demand.get(longest! + 1) ?? 0));
    demand.set(longest!, demand.get(longest!)! - 1);
    if (demand.get(longest!) === 0) demand.delete(longest!);
  }
  const weights = [...demand.keys()].sort((a, b) => b - a);
  const counts = weights.map((weight) => demand.get(weight)!);
  const over = sticks * STICK - weights.reduce((sum, w, i) => sum + w * counts[i]!, 0);
  return { weights, counts, over };
}

/** Whether the rails go on so many sticks: longest first, every stick tried. */
function goesOn(rails: readonly number[], sticks: number): boolean {
  const left = Array<number>(sticks).fill(STICK);
  const from = (k: number): boolean => {
    if (k === rails.length) return true;
    for (let s = 0; s < sticks; s++) {
      if (left[s]! < rails[k]! || left.indexOf(left[s]!) < s) continue;
      left[s]! -= rails[k]!;
      if (from(k + 1)) return true;
      left[s]! += rails[k]!;
    }
    return false;
  };
  return from(0);
}

describe('plans drawn from listed fillings', () => {
  it('covers few rails exactly where that can be done', () => {
    const seen = { found: 0, none: 0 };
    for (let k = 0; k < 200; k++) {
      const { weights, counts, over } = few(`cover ${k}`, k % 2 === 0);
      if (over < 0) continue;
      const instance = prepare(cuttingStock(STICK, weights, counts));
      if (instance.largest !== STICK) continue;
      const sticks = coverOf(instance, instance.demand, over, 1_000_000, watch);
      const rails = weights.flatMap((weight, i) => Array<number>(counts[i]!).fill(weight));
      expect(sticks !== null).toBe(goesOn(rails, 4));
      if (!sticks) {
        seen.none++;
        continue;
      }
      seen.found++;
      expect(sticks).toHaveLength(4);
      const made = sticks.flat().map((i) => weights[i]!);
      expect(made.sort((a, b) => b - a)).toEqual(rails);
      for (const items of sticks!)
        expect(items.reduce((sum, i) => sum + weights[i]!, 0)).toBeLessThanOrEqual(STICK);
    }
    expect(Math.min(seen.found, seen.none)).toBeGreaterThan(10);
  });

  it('says where too many fillings would have to be listed', () => {
    const weights = Array.from({ length: 60 }, (_, i) => 60 - i);
    const instance = prepare(cuttingStock(STICK, weights, Array<number>(60).fill(1)));
    expect(coverOf(instance, instance.demand, 0, 1_000_000, watch)).toBeUndefined();
  });

  it('sets shares right over the list, and keeps them so as sticks are taken', () => {
    let taken = 0;
    for (let k = 0; k < 40; k++) {
      const { weights, counts, over } = few(`listed ${k}`, true);
      const instance = prepare(cuttingStock(STICK, weights, counts));
      if (instance.largest !== STICK) continue;
      const even = new EvenShares(instance, watch);
      if (!even.settle(100)) continue;
      const fillings = even.list(1e-9)!;
      const listed = new ListedShares(fillings, even.state, even.left, over > 0, watch);
      const before = listed.state;
      if (!listed.settle(2_000)) continue;
      const { share } = listed.state;
      weights.forEach((_, i) => {
        const made = fillings.reduce(
          (sum, { items }, j) => sum + share[j]! * items.filter((item) => item === i).length,
          0,
        );
        expect(made).toBeCloseTo(counts[i]!, 1);
      });
      expect(share.reduce((sum, x) => sum + x, 0)).toBeCloseTo(4, 1);
      const first = listed.takeLargest(0, () => 0);
      if (!first) continue;
      taken++;
      const need = Int32Array.from(counts);
      for (const i of first.items) need[i]!--;
      expect(listed.demand).toEqual(need);
      expect(listed.rails).toBe(need.reduce((sum, d) => sum + d, 0));
      expect(listed.sticks).toBe(3);
      // No filling is left that needs more than there is.
      const { alive } = listed.state;
      fillings.forEach(({ items }, j) => {
        const fits = items.every((i) => items.filter((item) => item === i).length <= need[i]!);
        expect(alive[j] === 1).toBe(fits);
      });
      listed.restart(before);
      expect(listed.state).toEqual(before);
    }
    expect(taken).toBeGreaterThan(10);
  });

  it('draws a plan where plans are sparse, the same one each time', () => {
    const problem = aroundSix('sparse 0', { rails: 180, stick: 4000, long: false, parted: true });
    const instance = prepare(problem);
    const drawn = (): ReturnType<PlanDrawing['run']> => {
      const goal = { cost: [1], rows: [], unmade: null };
      const drawing = new PlanDrawing([simplexLp], instance, goal, randomOf(1), watch);
      expect(drawing.hope).toBe('sparse');
      let made = drawing.run(watch);
      for (let more = 0; more < 20 && !made; more++) made = drawing.run(watch);
      return made;
    };
    const made = drawn();
    expect(made && serves(instance, made)).toBe(true);
    const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
    expect(usage(instance, made!)[0]).toBe(length / 4000);
    expect(drawn()).toEqual(made);
  });
});
