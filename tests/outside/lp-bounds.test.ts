/**
 * Column generation to its end: the linear programme over all proper patterns has the value that two independent
 * solvers found over a list of them all, and the bound in whole numbers is never above it. Sources beside each example.
 */
import { describe, expect, it } from 'vitest';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { dualValue, feasibleDuals } from '../../src/solve/bounds/bound.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import { Master } from '../../src/solve/columns/master.js';
import type { SearchGoal } from '../../src/solve/instance/goal.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { UNCOUNTED } from '../../src/solve/instance/watch.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { jsLp } from '../../src/solve/lp/js-lp.js';
import type { LpFactory } from '../../src/solve/lp/lp.js';
import type { Problem } from '../../src/solve/problem.js';
import { BARS, LUMBER, ONE_LENGTH, priced, ROLL_TRIM, stated, sticks, THREE_SIZES } from './examples.js';

const SECONDS = 20;
const A_ROUND = 50;

interface LpBound {
  readonly value: number;
  /** What the duals prove in whole numbers. */
  readonly proven: number;
}

function lpBound(problem: Problem, factory: LpFactory): LpBound {
  const instance = prepare(problem);
  const cost = instance.groups.map((group) => problem.stocks[group.members[0]!]!.costs[0]!);
  const goal: SearchGoal = { cost, rows: [], unmade: null };
  const master = new Master(instance, goal, new Knapsack(instance, UNCOUNTED), factory, UNCOUNTED);
  try {
    for (;;) {
      const answer = master.solve(SECONDS);
      if (answer === null) throw new Error(`${factory.name} failed`);
      const duals = master.duals();
      if (master.pricing.price(duals, instance.demand, A_ROUND) > 0) continue;
      if (master.pricing.sharpen()) continue;
      const sound = feasibleDuals(instance, goal, duals);
      if (sound === null) throw new Error('no sound duals');
      return {
        value: answer.objective,
        proven: Number(dualValue(instance, goal, sound)) / sound.scale,
      };
    }
  } finally {
    master.dispose();
  }
}

/** The published figures have as many places as they have. */
function expectLp(problem: Problem, lp: number, factory: LpFactory): void {
  const places = `${lp}`.split('.')[1]?.length ?? 0;
  const { value, proven } = lpBound(problem, factory);
  expect(Number(value.toFixed(places))).toBe(lp);
  expect(proven).toBeLessThanOrEqual(value + 1e-6);
  expect(proven).toBeGreaterThan(value - 1e-3);
}

const libraries: readonly LpFactory[] = [jsLp, highsLp(highsRuntime)];

describe.each(libraries.map((factory) => [factory.name, factory] as const))('with %s', (_, factory) => {
  it.each(ONE_LENGTH)('%s', (_source, _sticks, problem, lp) => {
    expectLp(problem(), lp, factory);
  });

  // Gilmore, Gomory, Operations Research 9, 1961, as in an open Pyomo textbook.
  it('Gilmore, Gomory 1961, three prices', () => {
    expectLp(stated(priced([5, 6], [6, 7], [9, 10]), THREE_SIZES), 170, factory);
  });

  // Guéret, Prins, Sevaux, Applications of Optimization with Xpress-MP, 2002, §9.6.
  it('Guéret, Prins, Sevaux 2002, least total length', () => {
    const stocks = priced([150, 150], [200, 200]);
    const sizes = [
      [40, 432],
      [60, 500],
      [70, 400],
    ] as const;
    expectLp(stated(stocks, sizes), 75_280, factory);
  });

  // Ours, re-solved with two solvers over all patterns.
  it.each<readonly [string, number, () => Problem]>([
    ['roll trim, kerf 1', 49.167, () => stated(sticks(110), ROLL_TRIM, 1, 1)],
    ['three prices, kerf 0.1', 187.5, () => stated(priced([5, 6], [6, 7], [9, 10]), THREE_SIZES, 10, 0.1)],
    ['bars in metres, kerf 3 mm', 90, () => stated(sticks(7.4), BARS, 1000, 0.003)],
    ['lumber in feet, kerf 1/8 in', 20.833, () => stated(sticks(17), LUMBER, 96, 1 / 96)],
  ])('%s', (_case, lp, problem) => {
    expectLp(problem(), lp, factory);
  });
});
