/** Problems at the limits of their statement: nothing to do, nothing to do it with, very large and very small numbers. */
import { describe, expect, it } from 'vitest';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Outcome, Problem, Stock } from '../../src/solve/problem.js';
import { isProven, provenValue, solveChecked } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

type Items = readonly (readonly [weight: number, demand: number])[];

function stock(segments: readonly number[], cost: number, supply: number | null = null): Stock {
  return { segments, costs: [cost], supply, purchase: null };
}

function problemOf(items: Items, stocks: readonly Stock[]): Problem {
  return {
    items: items.map(([weight, demand]) => ({ weight, demand, kind: 0 })),
    stocks,
    kinds: null,
    goals: 1,
  };
}

const IMPOSSIBLE: Outcome = { kind: 'none', proven: true, work: expect.any(Number) };

describe('no plan, and proven', () => {
  it.each<readonly [string, Problem]>([
    ['no stock', problemOf([[5, 1]], [])],
    ['a stock without segments', problemOf([[5, 1]], [stock([], 1)])],
    ['segments of no length', problemOf([[5, 1]], [stock([0, 0], 1)])],
    ['a supply of none', problemOf([[5, 1]], [stock([10], 1, 0)])],
    ['segments that only together are long enough', problemOf([[11, 1]], [stock([6, 6], 1)])],
    [
      'long enough sticks, but too few for the long rails',
      problemOf([[60, 3]], [stock([100], 1, 2), stock([59], 1)]),
    ],
  ])('%s', (_, problem) => {
    expect(solveChecked(engine, problem)).toEqual(IMPOSSIBLE);
  });
});

describe('the optimum by counting', () => {
  it.each<readonly [string, number, Problem]>([
    ['nothing asked for', 0, problemOf([], [stock([10], 1)])],
    ['nothing asked for, nothing there', 0, problemOf([], [])],
    ['stock that costs nothing', 0, problemOf([[5, 10]], [stock([10], 0)])],
    // One stick of 9 holds 3 + 3 + 3, the other 4 + 4.
    [
      'lengths near the largest safe whole number',
      2,
      problemOf(
        [
          [3e15, 3],
          [4e15, 2],
        ],
        [stock([9e15], 1)],
      ),
    ],
    // Two rails on each of the longer sticks.
    [
      'costs of a million million',
      3 * 19e11,
      problemOf([[60, 6]], [stock([100], 1e12), stock([120], 19e11)]),
    ],
    [
      'two hundred equal lines',
      67,
      problemOf(
        Array.from({ length: 200 }, () => [333, 1] as const),
        [stock([1000], 1)],
      ),
    ],
    ['a million of one rail', 333_334, problemOf([[300, 1e6]], [stock([1000], 1)])],
    // Every odd stick holds one rail and no stick two, so the sixty shortest that hold it are the cheapest.
    [
      'a rack of single sticks',
      (60 * (500 + 559)) / 2,
      problemOf(
        [[500, 60]],
        Array.from({ length: 100 }, (_, i) => stock([500 + i], 500 + i, 1)),
      ),
    ],
    [
      'a stick of forty short segments',
      2,
      problemOf([[30, 60]], [stock(new Array<number>(40).fill(31), 1, 3), stock([45], 1)]),
    ],
  ])('%s: %i', (_, optimum, problem) => {
    expect(provenValue(solveChecked(engine, problem))).toBe(optimum);
  });
});

describe('a deadline that is no moment', () => {
  const problem = problemOf(
    [
      [30, 30],
      [41, 20],
    ],
    [stock([100], 1)],
  );
  it.each([Infinity, -Infinity, Number.NaN])('%d still ends with a plan', (deadline) => {
    const outcome = solveChecked(engine, problem, { deadline });
    expect(outcome.kind).toBe('solved');
    expect(isProven(outcome) || deadline !== Infinity).toBe(true);
  });
});
