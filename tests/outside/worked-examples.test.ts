/** Worked examples from books and papers, through the engine. Lengths are scaled to whole numbers; sources beside each. */
import { describe, expect, it } from 'vitest';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Problem } from '../../src/solve/problem.js';
import { provenValue, solveChecked } from '../engine/checked.js';
import {
  BARS,
  LUMBER,
  ONE_LENGTH,
  PAPER_MILL,
  priced,
  ROLL_TRIM,
  type Sizes,
  stated,
  sticks,
  THREE_SIZES,
} from './examples.js';

const engine = createEngine({ highs: highsRuntime });

describe('one stock length, fewest sticks', () => {
  it.each(ONE_LENGTH)('%s: %i', (_, optimum, problem) => {
    expect(provenValue(solveChecked(engine, problem()))).toBe(optimum);
  });
});

// Wikipedia, "Cutting stock problem": 73 master rolls with 0.401 % waste, and no plan of 73 has fewer than 10 patterns.
it('the paper mill wastes what it must, and cuts no fewer patterns than can be', () => {
  const problem = stated(sticks(5600), PAPER_MILL);
  const outcome = solveChecked(engine, problem);
  expect(provenValue(outcome)).toBe(73);
  const cut = PAPER_MILL.reduce((sum, [length, demand]) => sum + length * demand, 0);
  expect((100 * (73 * 5600 - cut)) / (73 * 5600)).toBeCloseTo(0.401, 3);
  const patterns = outcome.kind === 'solved' ? outcome.patterns : [];
  expect(patterns.reduce((sum, { count }) => sum + count, 0)).toBe(73);
  expect(new Set(patterns.map(({ segments }) => JSON.stringify(segments))).size).toBeGreaterThanOrEqual(10);
});

describe('several stock lengths with prices', () => {
  // Gilmore, Gomory, Operations Research 9, 1961, as in an open Pyomo textbook; the limits are ours, re-solved with two
  // independent MIP solvers over all patterns.
  it.each([
    ['no limit', 170, priced([5, 6], [6, 7], [9, 10])],
    ['9 limited to 8', 171, priced([5, 6], [6, 7], [9, 10, 8])],
    ['9 limited to 5', 173, priced([5, 6], [6, 7], [9, 10, 5])],
    ['9 limited to 0', 175, priced([5, 6], [6, 7], [9, 10, 0])],
    ['6 limited to 5', 174, priced([5, 6], [6, 7, 5], [9, 10])],
  ])('Gilmore, Gomory 1961, %s: %i', (_, optimum, stocks) => {
    expect(provenValue(solveChecked(engine, stated(stocks, THREE_SIZES)))).toBe(optimum);
  });

  // Guéret, Prins, Sevaux, Applications of Optimization with Xpress-MP, 2002, §9.6.
  it.each([
    ['least total length', 75_300, priced([150, 150], [200, 200])],
    ['fewest bars', 377, priced([150, 1], [200, 1])],
  ])('Guéret, Prins, Sevaux 2002, %s: %i', (_, optimum, stocks) => {
    const sizes: Sizes = [
      [40, 432],
      [60, 500],
      [70, 400],
    ];
    expect(provenValue(solveChecked(engine, stated(stocks, sizes)))).toBe(optimum);
  });
});

describe('the same examples with a kerf, none after the last piece (ours, re-solved with two MIP solvers)', () => {
  it.each<readonly [string, number, () => Problem]>([
    ['roll trim, kerf 1', 50, () => stated(sticks(110), ROLL_TRIM, 1, 1)],
    ['three prices, kerf 0.1', 190, () => stated(priced([5, 6], [6, 7], [9, 10]), THREE_SIZES, 10, 0.1)],
    ['bars in metres, kerf 3 mm', 90, () => stated(sticks(7.4), BARS, 1000, 0.003)],
    ['lumber in feet, kerf 1/8 in', 21, () => stated(sticks(17), LUMBER, 96, 1 / 96)],
  ])('%s: %i', (_, optimum, problem) => {
    expect(provenValue(solveChecked(engine, problem()))).toBe(optimum);
  });
});
