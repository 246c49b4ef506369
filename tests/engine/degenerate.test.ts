/** Families at the edges, where simplex codes cycle and roundings go wrong. */
import { describe, expect, it } from 'vitest';
import { cuttingStock, withStocks } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Problem } from '../../src/solve/problem.js';
import { provenValue, solveChecked } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

const EIGHT_FEET = 2_438_400;

/** Every problem here has an optimum that counting alone gives, stated beside it. */
describe('optimum by counting', () => {
  const equalRails = (demand: number): Problem => cuttingStock(1000, [300], [demand]);
  it.each<readonly [string, number, Problem]>([
    ['all rails equal: three a stick', 34, equalRails(100)],
    ['demand of 100 000: three a stick', 33_334, equalRails(100_000)],
    [
      'equal rails as separate items',
      34,
      cuttingStock(1000, new Array<number>(100).fill(300), new Array<number>(100).fill(1)),
    ],
    [
      'one rail a stick: all longer than half',
      60,
      cuttingStock(
        1000,
        range(20, (i) => 501 + i),
        range(20, () => 3),
      ),
    ],
    ['a stick just long enough', 7, cuttingStock(999_983, [999_983], [7])],
    [
      'two rails that fill a stick to the micrometre',
      50,
      cuttingStock(EIGHT_FEET, [1_300_001, EIGHT_FEET - 1_300_001], [50, 50]),
    ],
    // The shorter ones still fit by twos.
    [
      'two rails one micrometre too long for a stick',
      75,
      cuttingStock(EIGHT_FEET, [1_300_001, EIGHT_FEET - 1_300_000], [50, 50]),
    ],
    ['one rail, one stick', 1, cuttingStock(EIGHT_FEET, [5], [1])],
    ['a rail of a micrometre on a long stick', 1, cuttingStock(100_000_000, [1], [1_000])],
    [
      'hundreds of nearly equal lengths: four a stick',
      200,
      cuttingStock(
        2_000_000,
        range(400, (i) => 450_000 + i),
        range(400, () => 2),
      ),
    ],
    [
      'nearly equal lengths just over a third: two a stick',
      300,
      cuttingStock(
        3_000_000,
        range(150, (i) => 1_000_001 + i * 7),
        range(150, () => 4),
      ),
    ],
    ['large demands of two lengths', 200_000, cuttingStock(1000, [667, 333], [200_000, 200_000])],
    // 503 fits only beside 491, and 499 beside itself.
    ['prime lengths in pairs', 3, cuttingStock(1000, [491, 499, 503], [2, 2, 2])],
  ])('%s: %i', (_, optimum, problem) => {
    expect(provenValue(solveChecked(engine, problem))).toBe(optimum);
  });

  it('none when a rail is longer than every stick, and says it is proven', () => {
    const problem = withStocks(
      [
        [101, 1],
        [50, 2],
      ],
      [
        { length: 100, cost: 1, supply: null },
        { length: 90, cost: 1, supply: 3 },
      ],
    );
    expect(solveChecked(engine, problem)).toMatchObject({ kind: 'none', proven: true });
  });

  it('none when supplies run out by one rail', () => {
    const problem = withStocks([[40, 7]], [{ length: 100, cost: 1, supply: 3 }]);
    expect(solveChecked(engine, problem)).toMatchObject({ kind: 'none', proven: true });
  });

  it('packs bought by the thousand: none but the cheap ones', () => {
    const pack = { pack: 10, tiers: [{ from: 1, price: 1 }] };
    const one = { segments: [100], supply: null };
    const problem: Problem = {
      items: [{ weight: 60, demand: 25_000, kind: 0 }],
      stocks: [
        { ...one, costs: [1], purchase: pack },
        { ...one, costs: [100], purchase: null },
      ],
      kinds: null,
      goals: 1,
    };
    // One rail a stick, 2,500 packs of ten at 1 a piece.
    expect(provenValue(solveChecked(engine, problem))).toBe(25_000);
  });

  it('stock that costs nothing is used before stock that does', () => {
    const problem = withStocks(
      [[40, 7]],
      [
        { length: 100, cost: 9, supply: null },
        { length: 100, cost: 0, supply: 3 },
      ],
    );
    expect(provenValue(solveChecked(engine, problem))).toBe(9);
  });
});

describe('optimum built in: sticks cut without any waste', () => {
  // Every stick is cut into the rails given, nothing left: the material bound is reached, so the number is the optimum.
  const cutUp = (name: string, sticks: number, length: number, parts: number, step: number): Problem => {
    const random = seeded(name);
    const demand = new Map<number, number>();
    for (let s = 0; s < sticks; s++) {
      const cuts = new Set<number>([0, length / step]);
      while (cuts.size < parts + 1) cuts.add(random.int(1, length / step - 1));
      const sorted = [...cuts].sort((a, b) => a - b);
      for (let c = 1; c < sorted.length; c++) {
        const rail = ((sorted[c] ?? 0) - (sorted[c - 1] ?? 0)) * step;
        demand.set(rail, (demand.get(rail) ?? 0) + 1);
      }
    }
    return cuttingStock(length, [...demand.keys()], [...demand.values()]);
  };

  it.each([
    ['coarse step', 12, 96 * 32, 4, 32],
    ['prime length of stick', 10, 997, 3, 1],
    ['few parts', 20, 600, 2, 5],
  ])('%s: %i sticks', (name, sticks, length, parts, step) => {
    expect(provenValue(solveChecked(engine, cutUp(name, sticks, length, parts, step)))).toBe(sticks);
  });
});

describe('hard to prove, so only true claims are asked for', () => {
  // Bound by material: total length over the stick, rounded up; a plan may not be below it and no bound above its value.
  const claims = (problem: Problem): { bound: number; value: number } => {
    const outcome = solveChecked(engine, problem, { ms: 20_000 });
    const proof = outcome.kind === 'solved' ? outcome.proofs[0] : undefined;
    return { bound: proof?.bound ?? -1, value: proof?.value ?? -1 };
  };
  const material = (problem: Problem): number => {
    const total = problem.items.reduce((sum, item) => sum + item.weight * item.demand, 0);
    return Math.ceil(total / (problem.stocks[0]?.segments[0] ?? 1));
  };

  it.each<readonly [string, Problem]>([
    [
      'prime lengths',
      cuttingStock(
        10_007,
        primes(60, 900),
        range(60, (i) => 1 + (i % 5)),
      ),
    ],
    [
      'demands of 100 000',
      cuttingStock(
        100_003,
        range(30, (i) => 9_001 + 991 * i),
        range(30, (i) => 100_000 - i),
      ),
    ],
  ])('%s', (_, problem) => {
    const { bound, value } = claims(problem);
    expect(value).toBeGreaterThanOrEqual(material(problem));
    // A good engine is within 3 % of its own bound on these.
    expect(value).toBeLessThanOrEqual(Math.ceil(bound * 1.03) + 1);
  });
});

function range(count: number, of: (i: number) => number): number[] {
  return Array.from({ length: count }, (_, i) => of(i));
}

function primes(count: number, from: number): number[] {
  const found: number[] = [];
  for (let n = from; found.length < count; n++) {
    let prime = n > 1;
    for (let d = 2; prime && d * d <= n; d++) prime = n % d !== 0;
    if (prime) found.push(n);
  }
  return found;
}
