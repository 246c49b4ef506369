/** Frame orders of many lengths: proven within counted work, and the grid their pricing stands on. */
import { describe, expect, it } from 'vitest';
import { verifyOutcome } from '../../bench/reference/verify.js';
import { type BatchShape, frameBatch, problemsOf } from '../../bench/tools/batches.js';
import { casesOf } from '../../bench/tools/frame-cases.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { prepare } from '../../src/solve/instance/instance.js';
import type { Problem } from '../../src/solve/problem.js';
import { isProven } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

const ONE: BatchShape = { frames: 24, mouldings: 1, offers: [8, 10, 12], sizes: 'usual', timeLimit: 30 };

function problem(name: string, shape: Partial<BatchShape>, at = 0): Problem {
  return problemsOf(frameBatch(name, { ...ONE, ...shape }))[at]!;
}

const HUNDRED = problem('distinct lengths', { frames: 200, distinct: 100 });
const MOULDINGS = { frames: 10_000, mouldings: 100 };

/** Units of work that each was proven with, doubled; at one time these took four times as much or were left open. */
const ORDERS: readonly (readonly [name: string, problem: Problem, work: number])[] = [
  ['a hundred lengths of twenty rails', HUNDRED, 1_600_000],
  ['a moulding whose bound has to rise', problem('frames over 100 mouldings', MOULDINGS, 8), 2_400_000],
  // Left open before, however long: the numbers of pieces between bound and plan are ruled out by several covers together.
  [
    'sixty unlike frames from five lengths',
    problem('stock lengths', { frames: 60, sizes: 'odd', offers: [12, 10, 8, 16, 14] }),
    200_000,
  ],
  ['forty lines cut in pairs', problemsOf(casesOf('matched')[1]!.document)[0]!, 400_000],
];

describe('orders of many lengths are proven within counted work', () => {
  it.each(ORDERS)('%s', (_, order, work) => {
    const now = (): number => performance.now();
    const outcome = engine.solve(order, { now, deadline: now() + 60_000, seed: 1, work });
    expect(verifyOutcome(order, outcome)).toEqual([]);
    expect(isProven(outcome)).toBe(true);
  });
});

describe('the grid of a table', () => {
  it('stands on the stop step: a stick full of rails loses less than a step to it', () => {
    for (let i = 0; i < 40; i++) {
      const random = seeded(`grid ${i}`);
      const step = random.pick([793.75, 500, 1000, 396.875]);
      const joint = random.int(2_000, 9_000);
      const lengths = new Set(Array.from({ length: random.int(10, 90) }, () => random.int(250, 1000)));
      const items = [...lengths].map((steps) => ({
        weight: Math.round(steps * step) + joint,
        demand: random.int(1, 40),
        kind: 0,
      }));
      const stock = { segments: [3_657_600], costs: [1], supply: null, purchase: null };
      const { unit, weight, gridWeight, largest } = prepare({
        items,
        stocks: [stock],
        kinds: null,
        goals: 1,
      });
      // The share of a rail that the grid leaves out, over a stick full of it.
      const lost = weight.map((w, k) => ((w / unit - gridWeight[k]!) / (w / unit)) * largest);
      expect(gridWeight.every((g, k) => g * unit <= weight[k]! + 1e-6)).toBe(true);
      expect(lost.reduce((sum, l) => sum + l, 0) / lost.length).toBeLessThan(step);
    }
  });
});
