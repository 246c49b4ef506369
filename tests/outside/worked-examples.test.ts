/** Worked examples from books and papers, through the engine. Lengths are scaled to whole numbers; sources beside each. */
import { beforeAll, describe, expect, it } from 'vitest';
import { type PlainStock, withStocks } from '../../bench/tools/problems.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import type { Problem } from '../../src/solve/problem.js';
import { provenValue, solveChecked } from '../engine/checked.js';

let engine: Engine;
beforeAll(async () => {
  engine = await createEngine();
});

type Sizes = readonly (readonly [length: number, demand: number])[];

/** `kerf` counts between pieces only: each weight carries one, and so does the stock. Lengths times `scale` are whole. */
function stated(stocks: readonly PlainStock[], sizes: Sizes, scale = 1, kerf = 0): Problem {
  const whole = (length: number): number => {
    const scaled = Math.round(length * scale);
    expect(scaled / scale).toBeCloseTo(length, 9);
    return scaled;
  };
  return withStocks(
    sizes.map(([length, demand]) => [whole(length) + whole(kerf), demand]),
    stocks.map((stock) => ({ ...stock, length: whole(stock.length) + whole(kerf) })),
  );
}

function sticks(length: number): PlainStock[] {
  return [{ length, cost: 1, supply: null }];
}

function priced(
  ...list: readonly (readonly [length: number, cost: number, supply?: number])[]
): PlainStock[] {
  return list.map(([length, cost, supply]) => ({ length, cost, supply: supply ?? null }));
}

const PAPER_MILL: Sizes = [
  [1380, 22],
  [1520, 25],
  [1560, 12],
  [1710, 14],
  [1820, 18],
  [1880, 18],
  [1930, 20],
  [2000, 10],
  [2050, 12],
  [2100, 14],
  [2140, 16],
  [2150, 18],
  [2200, 20],
];
const ROLL_TRIM: Sizes = [
  [20, 48],
  [45, 35],
  [50, 24],
  [55, 10],
  [75, 8],
];
const LUMBER: Sizes = [
  [3, 25],
  [5, 20],
  [9, 15],
];
const BARS: Sizes = [
  [2.9, 100],
  [2.1, 100],
  [1.5, 100],
];
const JUMP: Sizes = [
  [75, 189],
  [53.8, 33],
  [53, 36],
  [51, 41],
  [50.2, 35],
  [32.2, 37],
  [30.8, 44],
  [29.8, 49],
  [20.1, 37],
  [16.2, 36],
  [14.5, 42],
  [11, 33],
  [8.6, 47],
  [8.2, 35],
  [6.6, 49],
  [5.1, 42],
];
const THREE_SIZES: Sizes = [
  [2, 20],
  [3, 10],
  [4, 20],
];

const ONE_LENGTH: readonly (readonly [source: string, sticks: number, problem: () => Problem])[] = [
  ['Wikipedia, "Cutting stock problem", paper mill', 73, () => stated(sticks(5600), PAPER_MILL)],
  [
    'Chvátal, Linear Programming, 1983, p. 195',
    453,
    () =>
      stated(sticks(100), [
        [45, 97],
        [36, 610],
        [31, 395],
        [14, 211],
      ]),
  ],
  ['Fourer, Gay, Kernighan, AMPL, roll trim data', 47, () => stated(sticks(110), ROLL_TRIM)],
  ['Winston, Operations Research, lumber example (from lecture notes)', 19, () => stated(sticks(17), LUMBER)],
  [
    'Sierksma, Zwols, Linear and Integer Optimization, ch. 13',
    37,
    () =>
      stated(
        sticks(380),
        [
          [128.5, 20],
          [126, 9],
          [100.5, 22],
          [86.5, 19],
          [82, 56],
          [70.5, 23],
        ],
        2,
      ),
  ],
  ['JuMP documentation, cutting stock tutorial', 334, () => stated(sticks(100), JUMP, 10)],
  ['Textbook bars (from memory)', 90, () => stated(sticks(7.4), BARS, 10)],
  [
    'Fieldhouse 1990 (from memory)',
    3,
    () =>
      stated(sticks(132), [
        [44, 2],
        [33, 3],
        [12, 6],
      ]),
  ],
];

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
