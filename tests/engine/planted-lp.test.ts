/**
 * LP libraries that fail in every way seen or feared. The engine may do worse with them, but it must end in time, give
 * plans that hold, and claim nothing false: its bounds are re-proved in whole numbers, whatever the duals were.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { exhaustive } from '../../bench/reference/exhaustive.js';
import { cuttingStock, PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { type Random, seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { highsLp } from '../../src/solve/lp/highs-lp.js';
import type { Lp, LpFactory, LpOptimal, LpResult } from '../../src/solve/lp/lp.js';
import type { Outcome } from '../../src/solve/problem.js';
import { solveChecked } from './checked.js';

let real: LpFactory;
beforeAll(async () => {
  real = highsLp(highsRuntime);
});

type Lie = (truth: LpResult, call: number, random: Random, seconds: number) => LpResult;

/** Changes what a true LP says; the columns and rows still reach it. */
function planted(lie: Lie): LpFactory {
  return {
    name: 'planted',
    mostRows: Infinity,
    create: (rows): Lp => {
      const lp = real.create(rows);
      const random = seeded('planted');
      let calls = 0;
      return {
        addColumn: (cost, at, values) => lp.addColumn(cost, at, values),
        setRow: (row, lower, upper) => lp.setRow(row, lower, upper),
        setUpper: (column, upper) => lp.setUpper(column, upper),
        solve: (seconds) => lie(lp.solve(seconds), calls++, random, seconds),
        dispose: () => lp.dispose(),
      };
    },
  };
}

function told(change: (truth: LpOptimal, call: number, random: Random) => Partial<LpOptimal>): Lie {
  return (truth, call, random) =>
    truth.status === 'optimal' ? { ...truth, ...change(truth, call, random) } : truth;
}

function spin(seconds: number): void {
  const end = performance.now() + seconds * 1000;
  while (performance.now() < end);
}

const failed: LpResult = { status: 'failed', reason: 'planted' };

const LIES: readonly (readonly [name: string, lie: Lie])[] = [
  ['never solves anything', () => failed],
  ['solves once, then fails', (truth, call) => (call === 0 ? truth : failed)],
  ['fails every other time', (truth, call) => (call % 2 === 0 ? truth : failed)],
  [
    'cycles until its time is up',
    (_, __, ___, seconds) => {
      spin(Math.min(seconds, 0.5));
      return failed;
    },
  ],
  ['answers NaN duals', told(({ duals }) => ({ duals: duals.map(() => Number.NaN) }))],
  ['answers NaN values', told(({ x }) => ({ x: x.map(() => Number.NaN) }))],
  ['answers a NaN objective', told(() => ({ objective: Number.NaN }))],
  ['answers infinite duals', told(({ duals }) => ({ duals: duals.map(() => Infinity) }))],
  ['answers duals twice too large', told(({ duals }) => ({ duals: duals.map((y) => 2 * y) }))],
  ['answers duals a little too large', told(({ duals }) => ({ duals: duals.map((y) => y * (1 + 1e-7)) }))],
  ['answers negative duals', told(({ duals }) => ({ duals: duals.map((y) => -y) }))],
  ['answers huge duals', told(({ duals }) => ({ duals: duals.map(() => 1e300) }))],
  ['answers no duals at all', told(() => ({ duals: new Float64Array(0) }))],
  ['answers zero duals', told(({ duals }) => ({ duals: duals.map(() => 0) }))],
  [
    'answers other duals each time',
    told(({ duals }, _, random) => ({ duals: duals.map(() => random.real() * 2) })),
  ],
  ['answers values of nothing', told(({ x }) => ({ x: x.map(() => 0) }))],
  ['answers negative values', told(({ x }) => ({ x: x.map((v) => -v - 1) }))],
  ['answers values that overshoot', told(({ x }) => ({ x: x.map((v) => 1000 * v + 1) }))],
  ['answers an objective too high', told(({ objective }) => ({ objective: 10 * objective + 5 }))],
  ['answers an objective too low', told(() => ({ objective: -7 }))],
];

const SHAPES: readonly Shape[] = [
  { ...PLAIN, items: 4 },
  { ...PLAIN, items: 4, stocks: 3, limited: 0.4, goals: 2 },
  { ...PLAIN, items: 4, stocks: 2, flawed: 0.5, packed: 0.4, kinds: 'mouldings' },
];

/** Empty when nothing false is claimed. */
function falsehood(outcome: Outcome, optimum: readonly number[] | null): string {
  if (outcome.kind === 'none')
    return outcome.proven && optimum !== null ? 'says none, but a plan exists' : '';
  if (optimum === null) return 'a plan where none can exist';
  const [proof] = outcome.proofs;
  const best = optimum[0] ?? 0;
  if (proof === undefined) return 'no proof';
  if (proof.bound > best) return `bound ${proof.bound} above the optimum ${best}`;
  if (proof.status === 'optimal' && proof.value !== best) return `optimal at ${proof.value}, not ${best}`;
  const allBefore = outcome.proofs.every((p, goal) => p.value === optimum[goal] || goal > 0);
  const second = outcome.proofs[1];
  if (allBefore && second && second.bound > (optimum[1] ?? 0)) return `second bound ${second.bound} too high`;
  return '';
}

describe('an LP library that', () => {
  it.each(LIES)('%s', async (name, lie) => {
    const engine = createEngine({ highs: highsRuntime, lps: [planted(lie)] });
    const faults: string[] = [];
    for (let i = 0; i < 9; i++) {
      const problem = randomProblem(`planted ${i}`, SHAPES[i % SHAPES.length] ?? PLAIN);
      const fault = falsehood(solveChecked(engine, problem, { ms: 150 }), exhaustive(problem).values);
      if (fault !== '') faults.push(`${name} ${i}: ${fault}`);
    }
    expect(faults).toEqual([]);
  });

  it.each(LIES)('%s, on a problem with a gap at the root', async (_, lie) => {
    const engine = createEngine({ highs: highsRuntime, lps: [planted(lie)] });
    // Fieldhouse 1990 (from memory): optimum 3, LP over proper patterns 2.0909.
    const outcome = solveChecked(engine, cuttingStock(132, [44, 33, 12], [2, 3, 6]), { ms: 150 });
    expect(outcome.kind).toBe('solved');
    expect(falsehood(outcome, [3])).toBe('');
  });
});
