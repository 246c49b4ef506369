/** Optima that no rounded-up bound reaches, against a search of our own that tries every packing without waste. */
import { beforeAll, describe, expect, it } from 'vitest';
import { aroundCore } from '../../bench/tools/cores.js';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { serves, usage } from '../../src/solve/columns/columns.js';
import { createEngine, type Engine } from '../../src/solve/engine.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import { highsLp, loadHighsRuntime } from '../../src/solve/lp/highs-lp.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';
import type { Problem } from '../../src/solve/problem.js';
import { PairSearch } from '../../src/solve/search/branch.js';
import { solveChecked } from './checked.js';
import { lying } from './lying.js';

let engine: Engine;
beforeAll(async () => {
  engine = await createEngine();
});

/** Whether the rails fill sticks to the end, with nothing left over: stick by stick, the longest rail left first. */
function fillsUp({ items, stocks }: Problem): boolean {
  const stick = stocks[0]!.segments[0]!;
  const rails = items.flatMap(({ weight, demand }) => Array.from({ length: demand }, () => weight));
  rails.sort((a, b) => b - a);
  const used = rails.map(() => false);
  const next = (from: number, room: number): boolean => {
    if (room === 0) {
      const lead = used.indexOf(false);
      if (lead < 0) return true;
      used[lead] = true;
      const done = next(lead + 1, stick - rails[lead]!);
      used[lead] = false;
      return done;
    }
    for (let i = from; i < rails.length; i++) {
      if (used[i] || rails[i]! > room || (rails[i] === rails[i - 1] && i > from && !used[i - 1])) continue;
      used[i] = true;
      const done = next(i + 1, room - rails[i]!);
      used[i] = false;
      if (done) return true;
    }
    return false;
  };
  return next(0, 0);
}

describe('a core that needs one stick more than its fraction', () => {
  it('is proven, where it does and where it does not', () => {
    const values = new Map<number, number>();
    for (let i = 0; i < 24; i++) {
      const problem = aroundCore(`core ${i}`, i % 2 === 0 ? 300 : 2500, 0);
      const optimum = fillsUp(problem) ? 5 : 6;
      const outcome = solveChecked(engine, problem);
      if (outcome.kind !== 'solved') throw new Error(outcome.kind);
      expect(outcome.proofs).toEqual([{ status: 'optimal', value: optimum, bound: optimum }]);
      values.set(optimum, 1 + (values.get(optimum) ?? 0));
    }
    expect(values.get(5) ?? 0).toBeGreaterThan(0);
    expect(values.get(6) ?? 0).toBeGreaterThan(5);
  });

  it('is proven among 150 rails', () => {
    const outcome = solveChecked(engine, aroundCore('a large core', 2500, 45), { ms: 120_000 });
    expect(outcome.kind === 'solved' && outcome.proofs[0]?.status).toBe('optimal');
  }, 130_000);
});

describe('the search over pairs', () => {
  const watch = watchOf({ now: () => performance.now(), deadline: performance.now() + 1e9 });

  it('finds a packing without waste exactly when there is one, also when it is stopped and goes on', async () => {
    const highs = highsLp(await loadHighsRuntime());
    const random = seeded('pairs');
    const seen = new Set<string>();
    for (let k = 0; k < 60; k++) {
      const problem =
        k % 3 === 0
          ? aroundCore(`pairs ${k}`, 2500, 0)
          : cuttingStock(100, ...distinct(random.int(6, 14), () => random.int(11, 60)));
      const instance = prepare(problem);
      const goal = { cost: [1], rows: [], unmade: null };
      const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
      const mark = Math.floor(length / problem.stocks[0]!.segments[0]!);
      const search = new PairSearch([k % 2 === 0 ? simplexLp : highs], instance, goal, [], mark, watch);
      let answer = search.run(watch, 1);
      while (answer.status === 'limit') answer = search.run(watch, 3);
      search.dispose();
      const whole = length % problem.stocks[0]!.segments[0]! === 0;
      expect(answer.status).toBe(whole && fillsUp(problem) ? 'found' : 'infeasible');
      if (answer.plan) {
        expect(serves(instance, answer.plan)).toBe(true);
        expect(usage(instance, answer.plan)[0]).toBe(mark);
      }
      seen.add(answer.status);
    }
    expect([...seen].sort()).toEqual(['found', 'infeasible']);
  });

  it('claims nothing from a library whose values and duals are wrong', async () => {
    const highs = await loadHighsRuntime();
    let packed = 0;
    for (let k = 0; k < 40; k++) {
      const random = seeded(`lying ${k}`);
      const problem = aroundCore(`lying ${k}`, k % 2 === 0 ? 300 : 2500, k % 3);
      const instance = prepare(problem);
      const length = problem.items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
      const mark = Math.floor(length / problem.stocks[0]!.segments[0]!);
      const search = new PairSearch(
        [highsLp(lying(highs, random))],
        instance,
        { cost: [1], rows: [], unmade: null },
        [],
        mark,
        watch,
      );
      const { status } = search.run(watch, 400);
      search.dispose();
      if (!fillsUp(problem)) continue;
      packed++;
      expect(status).not.toBe('infeasible');
    }
    expect(packed).toBeGreaterThan(5);
  });

  function distinct(count: number, draw: () => number): [number[], number[]] {
    const sizes = new Set<number>();
    while (sizes.size < count) sizes.add(draw());
    return [[...sizes], [...sizes].map(() => 1)];
  }
});
