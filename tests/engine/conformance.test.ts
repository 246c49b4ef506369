/** One suite against every way the engine can be set up, and against the plan of last resort. */
import { beforeAll, describe, expect, it } from 'vitest';
import { exhaustive } from '../../bench/reference/exhaustive.js';
import { cuttingStock, PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { firstFit } from '../../src/processes/first-fit.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import { jsLp } from '../../src/solve/lp/js-lp.js';
import type { Outcome } from '../../src/solve/problem.js';
import { isProven, solveChecked, valuesOf } from './checked.js';

interface SetUp {
  readonly name: string;
  readonly create: () => Engine;
  /** Whether small problems must be proven; the plan of last resort proves nothing. */
  readonly proves: boolean;
}

const SET_UPS: readonly SetUp[] = [
  { name: 'as the planner uses it', create: () => createEngine({ highs: highsRuntime }), proves: true },
  {
    name: 'HiGHS for every LP',
    create: () => createEngine({ highs: highsRuntime, lps: [highsLp(highsRuntime)] }),
    proves: true,
  },
  {
    name: 'javascript-lp-solver for every LP',
    create: () => createEngine({ highs: highsRuntime, lps: [jsLp] }),
    proves: true,
  },
  { name: 'first sticks that fit', create: () => firstFit, proves: false },
];

const SHAPES: readonly (readonly [name: string, shape: Shape])[] = [
  ['one length', PLAIN],
  ['lengths, limits', { ...PLAIN, stocks: 3, limited: 0.4 }],
  ['flaws, packs', { ...PLAIN, items: 4, stocks: 3, flawed: 0.4, packed: 0.4 }],
  ['goals', { ...PLAIN, items: 4, stocks: 3, goals: 3 }],
  ['angles', { ...PLAIN, items: 4, stocks: 2, kinds: 'mouldings', limited: 0.2 }],
];

describe.each(SET_UPS)('$name', ({ create, proves }) => {
  let engine: Engine;
  beforeAll(async () => {
    engine = create();
  });

  /** Without proof only what is claimed must be true. */
  const accepts = (outcome: Outcome, optimum: readonly number[] | null): boolean => {
    if (proves) return isProven(outcome) && same(valuesOf(outcome), optimum);
    if (outcome.kind === 'none') return !outcome.proven || optimum === null;
    return optimum !== null && (outcome.proofs[0]?.bound ?? 0) <= (optimum[0] ?? 0);
  };

  it.each(SHAPES)('%s: the optimum of exhaustive search', (name, shape) => {
    for (let i = 0; i < 40; i++) {
      const problem = randomProblem(`conformance ${name} ${i}`, shape);
      const outcome = solveChecked(engine, problem);
      const optimum = exhaustive(problem).values;
      expect({ i, outcome, optimum, accepted: accepts(outcome, optimum) }).toMatchObject({ accepted: true });
    }
  });

  it('a plan for 80 different lengths', () => {
    const random = seeded('eighty');
    const sizes = Array.from({ length: 80 }, (_, i) => 200 + 7 * i);
    const problem = cuttingStock(
      2_400,
      sizes,
      sizes.map(() => random.int(1, 8)),
    );
    const outcome = solveChecked(engine, problem, { ms: 5_000 });
    expect(outcome.kind).toBe('solved');
  });

  it('Chvátal, Linear Programming, 1983, p. 195: 453', () => {
    const problem = cuttingStock(100, [45, 36, 31, 14], [97, 610, 395, 211]);
    const outcome = solveChecked(engine, problem);
    expect({ outcome, accepted: accepts(outcome, [453]) }).toMatchObject({ accepted: true });
  });

  it('is one engine for many problems: what was solved before changes nothing', () => {
    const problem = randomProblem('again', { ...PLAIN, items: 6, stocks: 3, goals: 2 });
    const before = solveChecked(engine, problem);
    for (let i = 0; i < 10; i++) solveChecked(engine, randomProblem(`between ${i}`, PLAIN));
    expect(solveChecked(engine, problem)).toEqual(before);
  });

  it('leaves its input as it was', () => {
    const problem = randomProblem('frozen', { ...PLAIN, items: 4, stocks: 3, flawed: 0.5, packed: 0.5 });
    const before = structuredClone(problem);
    solveChecked(engine, frozen(problem));
    expect(problem).toEqual(before);
  });
});

function same(a: readonly number[] | null, b: readonly number[] | null): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}

function frozen<T>(value: T): T {
  if (typeof value === 'object' && value !== null) {
    for (const inner of Object.values(value)) frozen(inner);
    Object.freeze(value);
  }
  return value;
}
