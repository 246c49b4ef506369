/** Solves that are stopped at any moment, or started from an earlier plan: always valid, never a false claim. */
import { describe, expect, it } from 'vitest';
import { exhaustive } from '../../bench/reference/exhaustive.js';
import { frameBatch, problemsOf } from '../../bench/tools/batches.js';
import { cuttingStock, PLAIN, randomProblem, type Shape } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Outcome, Pattern, Problem } from '../../src/solve/problem.js';
import { provenValue, solveChecked, valuesOf } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

const SHAPE: Shape = { ...PLAIN, items: 4, stocks: 3, limited: 0.4, flawed: 0.2, packed: 0.2, goals: 2 };

/** What holds of an interrupted outcome, given the true optimum. */
function honest(outcome: Outcome, optimum: readonly number[] | null): string {
  if (outcome.kind === 'none')
    return outcome.proven && optimum !== null ? 'says none, but a plan exists' : '';
  if (optimum === null) return 'a plan where none can exist';
  const [first, second] = outcome.proofs;
  const [best = 0, then = 0] = optimum;
  if (first === undefined || second === undefined) return 'a goal without proof';
  if (first.bound > best) return `bound ${first.bound} above the optimum ${best}`;
  if (first.status === 'optimal' && first.value !== best) return `optimal at ${first.value}, not ${best}`;
  if (first.value === best && second.bound > then) return `second bound ${second.bound} above ${then}`;
  return '';
}

describe('stopped after a number of questions', () => {
  it.each([0, 1, 2, 5, 20])('%i', (questions) => {
    for (let i = 0; i < 60; i++) {
      const problem = randomProblem(`stopped ${questions} ${i}`, SHAPE);
      let asked = 0;
      const outcome = solveChecked(engine, problem, { stopped: () => ++asked > questions });
      expect({ i, fault: honest(outcome, exhaustive(problem).values) }).toEqual({ i, fault: '' });
    }
  });
});

describe('no time at all', () => {
  it('still gives a bound by length, for frames from priced offers', () => {
    const shape = { frames: 40, mouldings: 1, offers: [8, 10, 12], sizes: 'odd', timeLimit: 5 } as const;
    for (let i = 0; i < 5; i++) {
      const problem = problemsOf(frameBatch(`no time ${i}`, shape))[0]!;
      const outcome = solveChecked(engine, problem, { stopped: () => true });
      const { value = 0, bound = 0 } = outcome.kind === 'solved' ? outcome.proofs[0]! : {};
      expect({ i, near: value > 0 && bound > 0.8 * value }).toEqual({ i, near: true });
    }
  });
});

describe('a clock that jumps past the deadline', () => {
  it.each([0, 1, 3, 10, 40])('at reading %i', (reading) => {
    for (let i = 0; i < 60; i++) {
      const problem = randomProblem(`clock ${reading} ${i}`, SHAPE);
      let read = 0;
      const now = (): number => (++read > reading ? 1e12 : read);
      const outcome = solveChecked(engine, problem, { now, deadline: 1e6 });
      expect({ i, fault: honest(outcome, exhaustive(problem).values) }).toEqual({ i, fault: '' });
    }
  });

  it('a deadline already past still gives a plan when any stick holds the rails', () => {
    const problem = cuttingStock(1000, [300, 420, 510], [40, 30, 20]);
    const outcome = solveChecked(engine, problem, { now: () => 10, deadline: 5 });
    expect(outcome.kind).toBe('solved');
  });
});

describe('the time limit', () => {
  it('is kept on a problem too large to finish', () => {
    // Triplets that leave no waste at all: a plan at the bound exists, but is hard to find.
    const random = seeded('too large to finish');
    const stick = 1_000_003;
    const sizes = Array.from({ length: 700 }, () => {
      const a = random.int(380_000, 490_000);
      const b = random.int(255_000, Math.floor((stick - a) / 2));
      return [a, b, stick - a - b];
    }).flat();
    const problem = cuttingStock(
      stick,
      sizes,
      sizes.map(() => 1),
    );
    // A clock that counts readings: the engine must go on reading it, and stop soon after the deadline.
    let last = 0;
    let past = 0;
    const began = performance.now();
    const now = (): number => {
      last = performance.now() - began;
      if (last > 400) past++;
      return last;
    };
    solveChecked(engine, problem, { now, deadline: 400 });
    const ended = performance.now() - began;
    expect(past).toBeGreaterThan(0);
    // Generous for a busy machine: it shows that the limit stops the search, not how exactly.
    expect(ended).toBeLessThan(10_000);
  });
});

describe('starting from an earlier plan', () => {
  const problem = cuttingStock(1000, [501, 333, 251, 249, 167, 83], [21, 34, 27, 18, 40, 55]);

  it('never ends worse than the plan it was given', () => {
    const first = solveChecked(engine, problem);
    const start = first.kind === 'solved' ? first.patterns : [];
    let asked = 0;
    const again = solveChecked(engine, problem, { start, stopped: () => ++asked > 1 });
    expect(valuesOf(again)).toEqual(valuesOf(first));
  });

  it('drops patterns that do not fit', () => {
    const odd: Pattern[] = [
      { stock: 0, count: 1, segments: [[{ item: 0, count: 2 }]] },
      { stock: 5, count: 1, segments: [[{ item: 0, count: 1 }]] },
      { stock: 0, count: 1, segments: [[{ item: 99, count: 1 }]] },
      { stock: 0, count: 1, segments: [[{ item: 1, count: 1 }], [{ item: 1, count: 1 }]] },
      { stock: 0, count: 1, segments: [] },
      { stock: 0, count: -3, segments: [[{ item: 1, count: 1 }]] },
      { stock: 0, count: 1, segments: [[{ item: 1, count: 0.5 }]] },
      { stock: 0, count: 1e9, segments: [[{ item: 2, count: 1 }]] },
    ];
    const outcome = solveChecked(engine, problem, { start: odd });
    expect(provenValue(outcome)).toBe(provenValue(solveChecked(engine, problem)));
  });
});

describe('the same seed', () => {
  it('gives the same plan', () => {
    for (let i = 0; i < 20; i++) {
      const problem: Problem = randomProblem(`same ${i}`, { ...SHAPE, items: 8, demand: 6 });
      expect(solveChecked(engine, problem, { seed: i })).toEqual(solveChecked(engine, problem, { seed: i }));
    }
  });
});
