/** Cases an engine once claimed too much on, each cut down to its smallest; the optimum by exhaustive search as well. */
import { describe, expect, it } from 'vitest';
import { exhaustive } from '../../bench/reference/exhaustive.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Problem, Stock } from '../../src/solve/problem.js';
import { isProven, solveChecked, valuesOf } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

function items(...list: readonly (readonly [weight: number, demand: number])[]): Problem['items'] {
  return list.map(([weight, demand]) => ({ weight, demand, kind: 0 }));
}

function stock(length: number, costs: readonly number[], more: Partial<Stock> = {}): Stock {
  return { segments: [length], costs, supply: null, purchase: null, ...more };
}

const CASES: readonly (readonly [what: string, values: readonly number[], problem: Problem])[] = [
  [
    'a limited longer stick that does not pay',
    [51],
    {
      items: items([11, 2], [3, 2], [2, 1]),
      stocks: [stock(13, [17]), stock(15, [19], { supply: 1 })],
      kinds: null,
      goals: 1,
    },
  ],
  [
    'a second goal that another of the equally cheap stocks serves better',
    [9, 9],
    {
      items: items([80, 4], [79, 4], [15, 3]),
      stocks: [
        stock(84, [1, 2]),
        stock(84, [79, 2], {
          purchase: {
            pack: 1,
            tiers: [
              { from: 1, price: 81 },
              { from: 4, price: 78 },
            ],
          },
        }),
        stock(84, [1, 1]),
      ],
      kinds: null,
      goals: 2,
    },
  ],
  [
    'a second goal whose search finds a better plan for the first',
    [148, 8],
    {
      items: items([22, 4], [9, 3], [7, 3], [7, 2]),
      stocks: [stock(48, [45, 3], { supply: 3 }), stock(58, [58, 2])],
      kinds: null,
      goals: 2,
    },
  ],
];

describe('once claimed too much on', () => {
  it.each(CASES)('%s', (_, values, problem) => {
    expect(exhaustive(problem).values).toEqual(values);
    const outcome = solveChecked(engine, problem);
    expect({ values: valuesOf(outcome), proven: isProven(outcome) }).toEqual({ values, proven: true });
  });

  it.each(CASES)('%s, stopped at every moment', (_, [first = 0], problem) => {
    for (let questions = 0; questions < 40; questions++) {
      let asked = 0;
      const outcome = solveChecked(engine, problem, { stopped: () => ++asked > questions });
      const bound = outcome.kind === 'solved' ? outcome.proofs[0]?.bound : 0;
      expect(bound).toBeLessThanOrEqual(first);
    }
  });
});
