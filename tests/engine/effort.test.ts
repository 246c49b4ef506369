/** Effort is counted work: the clock may end a search, but how often it is read and how finely it ticks changes nothing. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { frameBatch, problemsOf } from '../../bench/tools/batches.js';
import { cuttingStock, PLAIN, randomProblem } from '../../bench/tools/problems.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Problem } from '../../src/solve/problem.js';

const engine = createEngine({ highs: highsRuntime });

const CLOCKS: readonly (readonly [string, () => () => number])[] = [
  ['stands still', () => () => 0],
  [
    'ticks at each reading',
    () => {
      let read = 0;
      return () => ++read;
    },
  ],
  [
    'ticks every thousandth reading',
    () => {
      let read = 0;
      return () => Math.floor(++read / 1000);
    },
  ],
  [
    'is read twice',
    () => {
      let read = 0;
      return () => {
        read += 2;
        return read;
      };
    },
  ],
];

/** Includes hard problems, which a budget cuts short. */
const PROBLEMS: readonly Problem[] = [
  ...Array.from({ length: 12 }, (_, i) =>
    randomProblem(`effort ${i}`, { ...PLAIN, items: 8, stocks: 3, limited: 0.3, goals: 2, packed: 0.2 }),
  ),
  cuttingStock(1000, [501, 333, 251, 201, 187, 143, 129, 117, 93, 71], [13, 7, 19, 5, 11, 9, 17, 3, 8, 21]),
  cuttingStock(10_000, [4127, 3671, 3313, 2909, 2557, 2203, 1901, 1597], [7, 9, 11, 6, 8, 13, 5, 10]),
];

describe('a clock that', () => {
  it.each(CLOCKS)('%s leaves every outcome as it is', (_, clock) => {
    for (const problem of PROBLEMS) {
      for (const work of [100, 2_000, 20_000]) {
        const still = engine.solve(problem, { now: () => 0, deadline: 1e9, seed: 1, work });
        expect(engine.solve(problem, { now: clock(), deadline: 1e9, seed: 1, work })).toEqual(still);
      }
    }
  });

  it.each(CLOCKS)('%s leaves a plan as it is', (_, clock) => {
    const folder = new URL('../fixtures/plans/', import.meta.url);
    for (const name of ['01', '08']) {
      const document = JSON.parse(readFileSync(new URL(`${name}.batch.json`, folder), 'utf8'));
      const batch = checkBatch({ ...document, options: { ...document.options, timeLimit: 40_000 } });
      const still = JSON.stringify(planBatchHere(batch, engine, { now: () => 0 }));
      expect(JSON.stringify(planBatchHere(batch, engine, { now: clock() }))).toBe(still);
    }
  });
});

describe('a budget of work', () => {
  it('ends a search soon after it is spent, with a plan', () => {
    for (const problem of PROBLEMS) {
      const whole = engine.solve(problem, { now: () => 0, deadline: 1e9, seed: 1, work: 200_000 });
      const short = engine.solve(problem, { now: () => 0, deadline: 1e9, seed: 1, work: 50 });
      expect(short.work).toBeLessThanOrEqual(whole.work);
      expect(short.kind).toBe(whole.kind);
    }
  });

  it('ends it as soon as an improvement is said to be enough', () => {
    const problem = PROBLEMS.at(-2)!;
    let asked = 0;
    const first = engine.solve(problem, {
      now: () => 0,
      deadline: 1e9,
      seed: 1,
      enough: () => {
        asked += 1;
        return 0;
      },
    });
    const all = engine.solve(problem, { now: () => 0, deadline: 1e9, seed: 1, work: 200_000 });
    expect(asked).toBeGreaterThan(0);
    expect(first.work).toBeLessThan(all.work);
  });

  it('ends it where nothing better comes and it has no patience', () => {
    const problem = PROBLEMS.at(-2)!;
    const met: number[] = [];
    const patience = (work: number): number => {
      met.push(work);
      return work;
    };
    const clock = { now: () => 0, deadline: 1e9, seed: 1 };
    const short = engine.solve(problem, { ...clock, patience });
    const all = engine.solve(problem, { ...clock, work: 200_000 });
    expect(short.kind).toBe('solved');
    expect(short.work).toBeLessThan(all.work);
    expect(short.work).toBeGreaterThanOrEqual(met.at(-1)!);
  });
});

// Knowing how far a stick can be filled to the micrometre alone took 20,000 units.
it('is little for an order that needs no more than the lengths of its sticks', () => {
  for (let k = 0; k < 3; k++) {
    const shape = { frames: 60, mouldings: 1, offers: [8, 10, 12], sizes: 'usual', timeLimit: 30 } as const;
    const problem = problemsOf(frameBatch(`quick 60 ${k + 3}`, shape))[0]!;
    const { work, ...outcome } = engine.solve(problem, { now: () => 0, deadline: 1e9, seed: 1 });
    expect(outcome.kind === 'solved' && outcome.proofs[0]!.status).toBe('optimal');
    expect(work).toBeLessThan(5_000);
  }
});
