/** The references themselves: three independent ways to the same optimum must agree, and spoiled outcomes be caught. */
import type { Highs } from 'highs';
import { beforeAll, describe, expect, it } from 'vitest';
import { allPatterns, allPatternsRelaxed } from '../../bench/reference/all-patterns.js';
import { solveArcFlow } from '../../bench/reference/arc-flow.js';
import { exhaustive, stateCount } from '../../bench/reference/exhaustive.js';
import { peerHighs } from '../../bench/reference/mip.js';
import { maximalPatterns, segmentPatterns, stockCost, usedLength } from '../../bench/reference/patterns.js';
import { verifyOutcome } from '../../bench/reference/verify.js';
import { cuttingStock, PLAIN, randomProblem, type Shape, withStocks } from '../../bench/tools/problems.js';
import type { Pattern, Problem, Solved } from '../../src/solve/problem.js';

let highs: Highs;
beforeAll(async () => {
  highs = await peerHighs();
});

const EVERYTHING: Shape = {
  ...PLAIN,
  items: 4,
  stocks: 3,
  limited: 0.5,
  flawed: 0.4,
  packed: 0.4,
  goals: 2,
};

describe('exhaustive search and the programme over all patterns agree', () => {
  it.each(['one', 'mouldings', 'any'] as const)('kinds: %s', (kinds) => {
    let feasible = 0;
    for (let i = 0; i < 60; i++) {
      const problem = randomProblem(`references ${kinds} ${i}`, { ...EVERYTHING, kinds });
      expect(stateCount(problem)).toBeLessThanOrEqual(625);
      const { values } = exhaustive(problem);
      const mip = allPatterns(highs, problem);
      expect({ i, values: mip.kind === 'optimal' ? mip.values : null }).toEqual({ i, values });
      if (values !== null) feasible++;
    }
    expect(feasible).toBeGreaterThan(20);
    expect(feasible).toBeLessThan(60);
  });
});

describe('the arc-flow model', () => {
  it('gives the optimum of the programme over all patterns', () => {
    for (let i = 0; i < 60; i++) {
      const problem = randomProblem(`arc-flow ${i}`, { ...PLAIN, items: 7, stocks: 3, limited: 0.3 });
      const patterns = allPatterns(highs, problem);
      const arcs = solveArcFlow(highs, problem, 20);
      const value = arcs.status === 'optimal' ? Math.round(arcs.value) : undefined;
      expect({ i, status: arcs.status, value }).toEqual({
        i,
        status: patterns.kind,
        value: patterns.values[0],
      });
    }
  });

  it('has the published optimum of Chvátal, Linear Programming, 1983, p. 195', () => {
    const problem = cuttingStock(100, [45, 36, 31, 14], [97, 610, 395, 211]);
    expect(solveArcFlow(highs, problem, 20).value).toBeCloseTo(453, 6);
    // The same page's LP bound, 452 1/4.
    expect(allPatternsRelaxed(highs, problem)).toBeCloseTo(452.25, 6);
  });
});

describe('patterns', () => {
  it('maximal patterns are those to which nothing can be added', () => {
    for (let i = 0; i < 40; i++) {
      const problem = randomProblem(`maximal ${i}`, PLAIN);
      const capacity = problem.stocks[0]?.segments[0] ?? 0;
      const fits = (counts: readonly number[]): boolean =>
        usedLength(problem, counts) <= capacity &&
        counts.every((c, j) => c <= (problem.items[j]?.demand ?? 0));
      const grown = (counts: readonly number[], j: number): number[] =>
        counts.map((c, k) => (k === j ? c + 1 : c));
      const expected = segmentPatterns(problem, capacity).filter((counts) =>
        counts.every((_, j) => !fits(grown(counts, j))),
      );
      const text = (list: readonly number[][]): string[] => list.map(String).sort();
      expect(text(maximalPatterns(problem, capacity))).toEqual(text(expected));
    }
  });

  it('counts start, weights and joints in index order', () => {
    const problem: Problem = {
      ...withStocks(
        [
          [10, 2],
          [7, 1],
        ],
        [{ length: 40, cost: 1, supply: null }],
      ),
      items: [
        { weight: 10, demand: 2, kind: 1 },
        { weight: 7, demand: 1, kind: 0 },
      ],
      kinds: {
        start: [5, 3],
        joint: [
          [1, 100],
          [4, 2],
        ],
      },
    };
    expect(usedLength(problem, [2, 1])).toBe(3 + 10 + 2 + 10 + 4 + 7);
    expect(usedLength(problem, [0, 1])).toBe(5 + 7);
    expect(usedLength(problem, [0, 0])).toBe(0);
  });

  it('prices n pieces at the cheapest whole purchase that covers them', () => {
    const stock = {
      segments: [1],
      costs: [99],
      supply: null,
      purchase: {
        pack: 4,
        tiers: [
          { from: 1, price: 10 },
          { from: 10, price: 7 },
        ],
      },
    };
    // 12 sold at 7 is 84; 8 sold at 10 is 80; 4 at 10 is 40.
    expect([0, 1, 4, 5, 8, 9, 13].map((n) => stockCost(stock, 0, n))).toEqual([0, 40, 40, 80, 80, 84, 112]);
    const twelve = [4, 9, 12, 13].map((n) => stockCost({ ...stock, supply: 12 }, 0, n));
    expect(twelve).toEqual([40, 84, 84, Infinity]);
    // With 8 to be had the price break at 10 is out of reach.
    expect(stockCost({ ...stock, supply: 8 }, 0, 8)).toBe(80);
  });
});

describe('verifyOutcome', () => {
  const problem = withStocks(
    [
      [6, 3],
      [4, 2],
    ],
    [{ length: 10, cost: 5, supply: 3 }],
  );
  const both: Pattern = {
    stock: 0,
    count: 2,
    segments: [
      [
        { item: 0, count: 1 },
        { item: 1, count: 1 },
      ],
    ],
  };
  const one: Pattern = { stock: 0, count: 1, segments: [[{ item: 0, count: 1 }]] };
  const good: Solved = {
    kind: 'solved',
    patterns: [both, one],
    proofs: [{ status: 'optimal', value: 15, bound: 15 }],
    work: 0,
  };

  it('accepts a true outcome', () => {
    expect(verifyOutcome(problem, good)).toEqual([]);
  });

  const proof = { status: 'optimal', value: 15, bound: 15 } as const;
  it.each<[string, Solved]>([
    ['a rail too few', { ...good, patterns: [both] }],
    ['a rail too many', { ...good, patterns: [both, { ...one, count: 2 }] }],
    [
      'more pieces than there are',
      {
        ...good,
        patterns: [{ ...both, count: 1 }, one, one, { ...one, segments: [[{ item: 1, count: 1 }]] }],
      },
    ],
    [
      'a segment too full',
      {
        ...good,
        patterns: [
          { ...one, segments: [[{ item: 0, count: 2 }]] },
          one,
          { ...one, segments: [[{ item: 1, count: 2 }]] },
        ],
      },
    ],
    ['a stock that is not there', { ...good, patterns: [both, { ...one, stock: 1 }] }],
    [
      'an item that is not there',
      { ...good, patterns: [both, one, { ...one, segments: [[{ item: 2, count: 1 }]] }] },
    ],
    ['a count that is not whole', { ...good, patterns: [{ ...both, count: 1.5 }, one] }],
    [
      'a segment the stock has not',
      { ...good, patterns: [both, { ...one, segments: [[{ item: 0, count: 1 }], []] }] },
    ],
    ['a piece used for nothing', { ...good, patterns: [both, one, { ...one, segments: [[]] }] }],
    ['a value that is not the cost', { ...good, proofs: [{ ...proof, value: 14, bound: 14 }] }],
    ['a bound above the value', { ...good, proofs: [{ ...proof, bound: 16 }] }],
    ['optimal without the bound', { ...good, proofs: [{ ...proof, bound: 14 }] }],
    ['the bound without optimal', { ...good, proofs: [{ ...proof, status: 'within' }] }],
    ['a bound that is no number', { ...good, proofs: [{ ...proof, status: 'within', bound: Number.NaN }] }],
    ['a goal without a proof', { ...good, proofs: [] }],
  ])('catches %s', (_, spoiled) => {
    expect(verifyOutcome(problem, spoiled)).not.toEqual([]);
  });
});
