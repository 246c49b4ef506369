/** Worked examples from books and papers, as the engine's problems, with their published optimum and bound. */
import { type PlainStock, withStocks } from '../../bench/tools/problems.js';
import type { Problem } from '../../src/solve/problem.js';

export type Sizes = readonly (readonly [length: number, demand: number])[];

/** Lengths and demands as the source has them. `kerf` counts between pieces only: each weight carries one, and so does the stock. Lengths times `scale` are whole. */
export function stated(stocks: readonly PlainStock[], sizes: Sizes, scale = 1, kerf = 0): Problem {
  const whole = (length: number): number => {
    const scaled = Math.round(length * scale);
    if (Math.abs(scaled - length * scale) > 1e-6)
      throw new RangeError(`${length} times ${scale} is not whole`);
    return scaled;
  };
  return withStocks(
    sizes.map(([length, demand]) => [whole(length) + whole(kerf), demand]),
    stocks.map((stock) => ({ ...stock, length: whole(stock.length) + whole(kerf) })),
  );
}

export function sticks(length: number): PlainStock[] {
  return [{ length, cost: 1, supply: null }];
}

export function priced(
  ...list: readonly (readonly [length: number, cost: number, supply?: number])[]
): PlainStock[] {
  return list.map(([length, cost, supply]) => ({ length, cost, supply: supply ?? null }));
}

export const PAPER_MILL: Sizes = [
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
export const ROLL_TRIM: Sizes = [
  [20, 48],
  [45, 35],
  [50, 24],
  [55, 10],
  [75, 8],
];
export const LUMBER: Sizes = [
  [3, 25],
  [5, 20],
  [9, 15],
];
export const BARS: Sizes = [
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
export const THREE_SIZES: Sizes = [
  [2, 20],
  [3, 10],
  [4, 20],
];

/** `lp`: the bound of Gilmore and Gomory over proper patterns, re-solved with two independent solvers over all of them. */
export const ONE_LENGTH: readonly (readonly [
  source: string,
  sticks: number,
  problem: () => Problem,
  lp: number,
])[] = [
  ['Wikipedia, "Cutting stock problem", paper mill', 73, () => stated(sticks(5600), PAPER_MILL), 72.9167],
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
    452.25,
  ],
  ['Fourer, Gay, Kernighan, AMPL, roll trim data', 47, () => stated(sticks(110), ROLL_TRIM), 46.25],
  [
    'Winston, Operations Research, lumber example (from lecture notes)',
    19,
    () => stated(sticks(17), LUMBER),
    18.333,
  ],
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
    36.459,
  ],
  ['JuMP documentation, cutting stock tutorial', 334, () => stated(sticks(100), JUMP, 10), 334],
  ['Textbook bars (from memory)', 90, () => stated(sticks(7.4), BARS, 10), 90],
  [
    'Fieldhouse 1990 (from memory)',
    3,
    () =>
      stated(sticks(132), [
        [44, 2],
        [33, 3],
        [12, 6],
      ]),
    2.0909,
  ],
];
