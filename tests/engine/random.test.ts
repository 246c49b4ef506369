/** Small random problems of every kind, against exhaustive search (whole numbers only) and the HiGHS MIP over all patterns. */
import type { Highs } from 'highs';
import { beforeAll, describe, expect, it } from 'vitest';
import { allPatterns } from '../../bench/reference/all-patterns.js';
import { exhaustive } from '../../bench/reference/exhaustive.js';
import { peerHighs } from '../../bench/reference/mip.js';
import { PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import type { Outcome, Problem } from '../../src/solve/problem.js';
import { isProven, solveChecked } from './checked.js';

let engine: Engine;
let highs: Highs;
beforeAll(async () => {
  engine = createEngine({ highs: highsRuntime });
  highs = await peerHighs();
});

const FAMILIES: readonly (readonly [name: string, cases: number, shape: Shape])[] = [
  ['one length', 300, PLAIN],
  ['one length, many of few', 150, { ...PLAIN, items: 3, demand: 9, length: 40 }],
  ['lengths in micrometres', 150, { ...PLAIN, length: 3_700_000 }],
  ['three lengths', 300, { ...PLAIN, stocks: 3 }],
  ['three lengths, limited', 300, { ...PLAIN, stocks: 3, limited: 0.6 }],
  ['flawed sticks', 200, { ...PLAIN, items: 4, stocks: 2, flawed: 0.6, limited: 0.3 }],
  ['packs and price breaks', 200, { ...PLAIN, items: 4, stocks: 3, packed: 0.6 }],
  ['packs, price breaks and limits', 150, { ...PLAIN, items: 4, stocks: 3, packed: 0.5, limited: 0.4 }],
  ['two goals, packs', 150, { ...PLAIN, items: 4, stocks: 3, packed: 0.4, goals: 2 }],
  ['two goals', 250, { ...PLAIN, items: 4, stocks: 3, limited: 0.3, goals: 2 }],
  ['angles that meet on a stick', 200, { ...PLAIN, items: 4, stocks: 2, kinds: 'mouldings' }],
  ['any joints', 150, { ...PLAIN, items: 4, stocks: 2, kinds: 'any' }],
  [
    'everything at once',
    250,
    {
      ...PLAIN,
      items: 4,
      stocks: 3,
      limited: 0.4,
      flawed: 0.3,
      packed: 0.3,
      goals: 3,
      kinds: 'mouldings',
    },
  ],
];

/** What an outcome may claim, given the optimum: never a bound above it, never `optimal` or `none` wrongly. */
function claim(outcome: Outcome): unknown {
  return outcome.kind === 'none' ? null : outcome.proofs.map((proof) => proof.value);
}

/** A first goal's bound above the optimum would be a false claim even on a solve that was not proven. */
function boundHolds(outcome: Outcome, optimum: readonly number[] | null): boolean {
  if (outcome.kind === 'none') return true;
  return (outcome.proofs[0]?.bound ?? 0) <= (optimum?.[0] ?? -Infinity);
}

describe('tiny problems, against exhaustive search', () => {
  it.each(FAMILIES)('%s', (name, cases, shape) => {
    const wrong: string[] = [];
    for (let i = 0; i < cases; i++) {
      const problem = randomProblem(`${name} ${i}`, shape);
      const { values } = exhaustive(problem);
      const outcome = solveChecked(engine, problem);
      const same = JSON.stringify(claim(outcome)) === JSON.stringify(values);
      if (!(same && isProven(outcome) && boundHolds(outcome, values)))
        wrong.push(`${name} ${i}: expected ${JSON.stringify(values)}, got ${brief(outcome)}`);
    }
    expect(wrong).toEqual([]);
  });
});

const LARGER: readonly (readonly [name: string, cases: number, shape: Shape])[] = [
  ['one length, larger', 50, { ...PLAIN, items: 10, demand: 12 }],
  ['limited, larger', 50, { ...PLAIN, items: 8, demand: 10, stocks: 3, limited: 0.5 }],
  ['flawed, larger', 30, { ...PLAIN, items: 7, demand: 8, stocks: 3, flawed: 0.4, limited: 0.4 }],
  ['packs, larger', 30, { ...PLAIN, items: 7, demand: 10, stocks: 3, packed: 0.6 }],
  ['two goals, larger', 30, { ...PLAIN, items: 7, demand: 8, stocks: 3, limited: 0.3, goals: 2 }],
  ['angles, larger', 30, { ...PLAIN, items: 6, demand: 6, stocks: 2, kinds: 'mouldings' }],
];

describe('larger problems, against the MIP over all patterns', () => {
  it.each(LARGER)('%s', (name, cases, shape) => {
    const wrong: string[] = [];
    let compared = 0;
    for (let i = 0; i < cases; i++) {
      const problem = randomProblem(`${name} ${i}`, shape);
      const reference = allPatterns(highs, problem, { seconds: 2 });
      if (reference.kind === 'limit') continue;
      compared++;
      const values = reference.kind === 'optimal' ? reference.values : null;
      const outcome = solveChecked(engine, problem);
      const same = JSON.stringify(claim(outcome)) === JSON.stringify(values);
      if (!(same && isProven(outcome) && boundHolds(outcome, values)))
        wrong.push(`${name} ${i}: expected ${JSON.stringify(values)}, got ${brief(outcome)}`);
    }
    expect(wrong).toEqual([]);
    expect(compared).toBeGreaterThan(cases / 2);
  });
});

describe('later goals are bounded truly at the values the earlier ones reached', () => {
  it('two goals, stopped early', () => {
    let seen = 0;
    for (let i = 0; i < 60; i++) {
      const problem: Problem = randomProblem(`held ${i}`, { ...PLAIN, items: 6, stocks: 3, goals: 2 });
      let asked = 0;
      const stopped = (): boolean => ++asked > 1 + (i % 7);
      const outcome = solveChecked(engine, problem, { stopped });
      if (outcome.kind === 'none') continue;
      const [first, second] = outcome.proofs;
      const reference = allPatterns(highs, problem, {}, [first?.value ?? 0]);
      expect(reference.kind).toBe('optimal');
      expect(second?.bound ?? Infinity).toBeLessThanOrEqual(reference.values[0] ?? -Infinity);
      seen++;
    }
    expect(seen).toBeGreaterThan(20);
  });
});

function brief(outcome: Outcome): string {
  return outcome.kind === 'none' ? `none, proven ${outcome.proven}` : JSON.stringify(outcome.proofs);
}
