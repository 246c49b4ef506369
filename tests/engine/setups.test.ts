/** Set-up charges: a fixed charge for each item on a piece and for each piece, against a HiGHS MIP over all patterns. */
import type { Highs } from 'highs';
import { beforeAll, describe, expect, it } from 'vitest';
import { allPatterns } from '../../bench/reference/all-patterns.js';
import { highsRuntime } from '../../bench/reference/mip.js';
import { PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import type { Problem } from '../../src/solve/problem.js';
import { isProven, solveChecked } from './checked.js';

let engine: Engine;
let highs: Highs;
beforeAll(async () => {
  engine = await createEngine();
  highs = await highsRuntime();
});

const FAMILIES: readonly (readonly [name: string, cases: number, shape: Shape])[] = [
  ['one length', 50, { ...PLAIN, items: 6, demand: 6 }],
  ['three lengths', 150, { ...PLAIN, stocks: 3 }],
  ['lengths in micrometres', 60, { ...PLAIN, stocks: 3, length: 3_700_000 }],
  ['three lengths, limited', 120, { ...PLAIN, stocks: 3, limited: 0.6 }],
  ['packs and price breaks', 60, { ...PLAIN, items: 4, stocks: 3, packed: 0.6 }],
  ['two goals, limited', 100, { ...PLAIN, items: 4, stocks: 3, limited: 0.4, goals: 2 }],
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

describe('equals the integer programme over all patterns with their charges', () => {
  it.each(FAMILIES)('%s', (name, cases, shape) => {
    for (let i = 0; i < cases; i++) {
      const problem = withSetups(`${name} ${i}`, shape);
      const reference = allPatterns(highs, problem);
      const outcome = solveChecked(engine, problem);
      const found = outcome.kind === 'solved' ? outcome.proofs.map(({ value }) => value) : null;
      const expected = reference.kind === 'optimal' ? reference.values : null;
      expect({ i, found, proven: isProven(outcome) }).toEqual({ i, found: expected, proven: true });
    }
  });
});
