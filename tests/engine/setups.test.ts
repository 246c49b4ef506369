/** Set-up charges: a fixed charge for each item on a piece and for each piece, against a HiGHS MIP over all patterns. */
import type { Highs } from 'highs';
import { beforeAll, describe, expect, it } from 'vitest';
import { allPatterns } from '../../bench/reference/all-patterns.js';
import { peerHighs } from '../../bench/reference/mip.js';
import { PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { fullest } from '../../src/solve/bounds/weight-duals.js';
import { type Cutting, serves } from '../../src/solve/columns/columns.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { columnCost, leastSetups, type SearchGoal } from '../../src/solve/instance/goal.js';
import { fitsOf, prepare } from '../../src/solve/instance/instance.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { byRate, greedy } from '../../src/solve/packing/first.js';
import type { Problem } from '../../src/solve/problem.js';
import { randomOf } from '../../src/solve/random.js';
import { exchanges } from '../../src/solve/setups/exchange.js';
import { SetupSearch } from '../../src/solve/setups/setups.js';
import { isProven, solveChecked } from './checked.js';

let engine: Engine;
let highs: Highs;
beforeAll(async () => {
  engine = createEngine({ highs: highsRuntime });
  highs = await peerHighs();
});

const FAMILIES: readonly (readonly [name: string, cases: number, shape: Shape])[] = [
  ['one length', 50, { ...PLAIN, items: 6, demand: 6 }],
  ['three lengths', 120, { ...PLAIN, stocks: 3 }],
  ['lengths in micrometres', 60, { ...PLAIN, stocks: 3, length: 3_700_000 }],
  ['three lengths, limited', 100, { ...PLAIN, stocks: 3, limited: 0.6 }],
  ['packs and price breaks', 60, { ...PLAIN, items: 4, stocks: 3, packed: 0.6 }],
  ['two goals, limited', 80, { ...PLAIN, items: 4, stocks: 3, limited: 0.4, goals: 2 }],
  ['angles that meet on a stick', 60, { ...PLAIN, items: 4, stocks: 2, kinds: 'mouldings' }],
];

/** From next to nothing to more than a piece costs; now and then none for an item. */
function withSetups(name: string, shape: Shape): Problem {
  const problem = randomProblem(name, shape);
  const random = seeded(`setups ${name}`);
  const most = random.pick([2, 10, 60, 400]);
  const item = problem.items.map(() => (random.chance(0.15) ? 0 : random.int(0, most)));
  return { ...problem, setups: { item, piece: random.pick([0, 3, most]) } };
}

/**
 * What exchanges and the bound over numbers of pieces come to by themselves, beside the least that there is; null where
 * they do not serve.
 */
function weighed(problem: Problem, optimum: number): { value: number; bound: number } | null {
  const instance = prepare(problem);
  const { setups } = problem;
  const goal: SearchGoal = {
    cost: instance.groups.map(({ members }) => problem.stocks[members[0]!]!.costs[0]! + setups!.piece),
    rows: [],
    unmade: null,
    setup: Float64Array.from(instance.order, (i) => setups!.item[i]!),
  };
  if (problem.goals > 1 || !exchanges(instance, goal)) return null;
  const spare = Float64Array.from(instance.groups, ({ supply }) => supply);
  const plan = greedy(instance, goal.cost, byRate, instance.demand, spare);
  if (plan === null) return null;
  const costOf = (cuttings: readonly Cutting[]): number =>
    cuttings.reduce((sum, { column, times }) => sum + times * columnCost(goal, column), 0);
  const clock = { now: () => 0, deadline: 1, work: 20_000 };
  const at = {
    value: costOf(plan),
    bound: 0,
    done: false,
    watch: watchOf(clock),
    take: (better: readonly Cutting[]) => {
      expect(serves(instance, better)).toBe(true);
      at.value = costOf(better);
    },
    learn: () => undefined,
    raise: (bound: number) => {
      at.bound = Math.max(at.bound, bound);
    },
  };
  const knapsack = new Knapsack(instance);
  const least = leastSetups(goal, instance.demand, fitsOf(instance));
  const holds = fullest(instance, knapsack);
  const factory = highsLp(() => highs);
  const search = new SetupSearch(
    { instance, goal, knapsack, factory, highs: () => highs, holds, least, random: randomOf(1) },
    at,
  );
  search.round(plan);
  search.dispose();
  expect({ value: at.value >= optimum, bound: at.bound <= optimum }).toEqual({ value: true, bound: true });
  return { value: at.value, bound: at.bound };
}

describe('equals the integer programme over all patterns with their charges', () => {
  it.each(FAMILIES)('%s', (name, cases, shape) => {
    const served = { cases: 0, found: 0, proven: 0 };
    for (let i = 0; i < cases; i++) {
      const problem = withSetups(`${name} ${i}`, shape);
      const reference = allPatterns(highs, problem);
      const outcome = solveChecked(engine, problem);
      const found = outcome.kind === 'solved' ? outcome.proofs.map(({ value }) => value) : null;
      const expected = reference.kind === 'optimal' ? reference.values : null;
      expect({ i, found, proven: isProven(outcome) }).toEqual({ i, found: expected, proven: true });
      const alone =
        expected === null || problem.stocks.some((stock) => stock.purchase)
          ? null
          : weighed(problem, expected[0]!);
      if (alone === null) continue;
      served.cases += 1;
      served.found += Number(alone.value === expected![0]);
      served.proven += Number(alone.bound === expected![0]);
    }
    if (served.cases === 0) return;
    expect(served.found / served.cases).toBeGreaterThan(0.9);
    expect(served.proven / served.cases).toBeGreaterThan(0.75);
  });
});
