/** Changes that must not change the answer, or must not make it worse. */
import { describe, expect, it } from 'vitest';
import { PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Item, Problem, Stock } from '../../src/solve/problem.js';
import { isProven, solveChecked, valuesOf } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

const SHAPE: Shape = {
  ...PLAIN,
  items: 8,
  demand: 6,
  stocks: 3,
  limited: 0.3,
  flawed: 0.2,
  packed: 0.2,
  goals: 2,
};
const CASES = 60;

/** Proven values of a problem; null when it is proven that no plan exists. */
function values(problem: Problem): readonly number[] | null {
  const outcome = solveChecked(engine, problem);
  expect(isProven(outcome)).toBe(true);
  return valuesOf(outcome);
}

function each(name: string, shape: Shape, check: (problem: Problem, i: number) => void): void {
  for (let i = 0; i < CASES; i++) check(randomProblem(`${name} ${i}`, shape), i);
}

/** Never worse: lexicographically at most; any plan beats none. */
function atMost(after: readonly number[] | null, before: readonly number[] | null): boolean {
  if (before === null) return true;
  if (after === null) return false;
  for (const [goal, value] of before.entries()) {
    const now = after[goal] ?? Infinity;
    if (now !== value) return now < value;
  }
  return true;
}

describe('the answer stays the same', () => {
  it('with the items in another order', () => {
    each('permute', SHAPE, (problem, i) => {
      const items = seeded(`order ${i}`).shuffled(problem.items);
      expect({ i, values: values({ ...problem, items }) }).toEqual({ i, values: values(problem) });
    });
  });

  it('with the stocks in another order', () => {
    each('stocks', SHAPE, (problem, i) => {
      const stocks = seeded(`order ${i}`).shuffled(problem.stocks);
      expect({ i, values: values({ ...problem, stocks }) }).toEqual({ i, values: values(problem) });
    });
  });

  it('with all lengths seven times as long', () => {
    each('scale', { ...SHAPE, kinds: 'mouldings' }, (problem, i) => {
      const seven = (n: number): number => 7 * n;
      const scaled: Problem = {
        ...problem,
        items: problem.items.map((item) => ({ ...item, weight: seven(item.weight) })),
        stocks: problem.stocks.map((stock) => ({ ...stock, segments: stock.segments.map(seven) })),
        kinds: problem.kinds && {
          start: problem.kinds.start.map(seven),
          joint: problem.kinds.joint.map((row) => row.map(seven)),
        },
      };
      expect({ i, values: values(scaled) }).toEqual({ i, values: values(problem) });
    });
  });

  it('with an item split in two lines', () => {
    each('split', SHAPE, (problem, i) => {
      const items = problem.items.flatMap((item): Item[] =>
        item.demand < 2
          ? [item]
          : [
              { ...item, demand: 1 },
              { ...item, demand: item.demand - 1 },
            ],
      );
      expect({ i, values: values({ ...problem, items }) }).toEqual({ i, values: values(problem) });
    });
  });

  it('with costs of the first goal multiplied', () => {
    each('costs', { ...SHAPE, packed: 0 }, (problem, i) => {
      const stocks = problem.stocks.map((stock) => ({
        ...stock,
        costs: stock.costs.map((cost, goal) => (goal === 0 ? 1000 * cost : cost)),
      }));
      const before = values(problem);
      const expected = before?.map((value, goal) => (goal === 0 ? 1000 * value : value)) ?? null;
      expect({ i, values: values({ ...problem, stocks }) }).toEqual({ i, values: expected });
    });
  });

  it('with a dominated stock added', () => {
    each('dominated', { ...SHAPE, packed: 0 }, (problem, i) => {
      const best = problem.stocks[0];
      if (best === undefined || best.supply !== null) return;
      const worse: Stock = {
        ...best,
        segments: best.segments.map((length) => Math.floor(length * 0.9)),
        costs: best.costs.map((cost) => cost + 1),
      };
      const stocks = [...problem.stocks, worse];
      expect({ i, values: values({ ...problem, stocks }) }).toEqual({ i, values: values(problem) });
    });
  });
});

describe('the answer never gets worse', () => {
  const improved: readonly (readonly [string, (problem: Problem) => Problem])[] = [
    ['with one more piece of each limited stock', (p) => ({ ...p, stocks: p.stocks.map(oneMore) })],
    ['with longer sticks', (p) => ({ ...p, stocks: p.stocks.map(longer) })],
    ['with one rail fewer', (p) => ({ ...p, items: oneRailFewer(p.items) })],
  ];
  it.each(improved)('%s', (name, change) => {
    each(name, { ...SHAPE, packed: 0 }, (problem, i) => {
      const before = values(problem);
      const after = values(change(problem));
      expect({ i, before, after, good: atMost(after, before) }).toEqual({ i, before, after, good: true });
    });
  });
});

function oneMore(stock: Stock): Stock {
  return stock.supply === null ? stock : { ...stock, supply: stock.supply + 1 };
}

function longer(stock: Stock): Stock {
  return { ...stock, segments: stock.segments.map((length) => length + 3) };
}

function oneRailFewer(items: readonly Item[]): readonly Item[] {
  const at = items.findIndex((item) => item.demand > 1);
  return items.map((item, i) => (i === at ? { ...item, demand: item.demand - 1 } : item));
}
