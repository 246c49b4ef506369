/** Branch and cut over some columns: what it works is counted while it works, and a budget ends it. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { type Watch, watchOf } from '../../src/solve/instance/watch.js';
import type { SolveOptions } from '../../src/solve/problem.js';
import { guess } from '../../src/solve/search/guess.js';
import type { Programme } from '../../src/solve/search/programme.js';

const STICK = 1_000;

/** Sticks filled at random from sixty rails, each needed a few times: the fewest that make them all. */
function patterns(name: string): Programme {
  const random = seeded(name);
  const rails = Array.from({ length: 60 }, () => random.int(90, 330));
  const demand = rails.map(() => random.int(1, 4));
  const [starts, indices, values]: [number[], number[], number[]] = [[0], [], []];
  for (let j = 0; j < 800; j++) {
    const counts = new Map<number, number>();
    for (let left = STICK; ; ) {
      const fit = rails.flatMap((rail, i) => (rail <= left && (counts.get(i) ?? 0) < demand[i]! ? [i] : []));
      if (fit.length === 0) break;
      const i = random.pick(fit);
      counts.set(i, (counts.get(i) ?? 0) + 1);
      left -= rails[i]!;
    }
    for (const [row, count] of [...counts].sort(([a], [b]) => a - b)) {
      indices.push(row);
      values.push(count);
    }
    starts.push(indices.length);
  }
  return {
    cost: new Float64Array(800).fill(1),
    most: new Float64Array(800).fill(4),
    group: new Int32Array(800),
    items: rails.length,
    lower: Float64Array.from(demand),
    upper: new Float64Array(rails.length).fill(Infinity),
    starts: Int32Array.from(starts),
    indices: Int32Array.from(indices),
    values: Float64Array.from(values),
  };
}

function watching(limits: Partial<SolveOptions> = {}): Watch {
  return watchOf({ now: () => 0, deadline: 1e9, ...limits });
}

/** What it finds, as a plan that costs at most `mark`, from the definition. */
function holds({ lower, upper, starts, indices, values }: Programme, mark: number, times: Float64Array) {
  const made = new Float64Array(lower.length);
  times.forEach((count, j) => {
    for (let e = starts[j]!; e < starts[j + 1]!; e++) made[indices[e]!]! += Math.round(count) * values[e]!;
  });
  const cost = times.reduce((sum, count) => sum + Math.round(count), 0);
  return cost <= mark && made.every((sum, r) => sum >= lower[r]! && sum <= upper[r]!);
}

describe('branch and cut', () => {
  const [hard, mark] = [patterns('counted'), 1_000];

  it('counts more the longer it works, and the same each time', () => {
    const spent = [1, 10, 10].map((nodes) => {
      const watch = watching();
      guess(highsRuntime(), hard, mark, nodes, watch);
      return watch.spent;
    });
    expect(spent[0]).toBeGreaterThan(0);
    expect(spent[1]).toBeGreaterThan(spent[0]!);
    expect(spent[2]).toBe(spent[1]);
  });

  it('ends soon after its work is spent, or when it is told to stop', () => {
    const whole = watching();
    guess(highsRuntime(), hard, mark, 60, whole);
    const work = 0.75 * whole.spent;
    const cut = watching({ work });
    guess(highsRuntime(), hard, mark, 60, cut);
    expect(cut.spent).toBeGreaterThanOrEqual(work);
    expect(cut.spent).toBeLessThan(1.2 * work);
    const stopped = watching({ stopped: () => true });
    guess(highsRuntime(), hard, mark, 60, stopped);
    expect(stopped.spent).toBeLessThan(whole.spent / 4);
  });

  it('finds plans that hold', () => {
    let found = 0;
    for (let k = 0; k < 2; k++) {
      const programme = patterns(`found ${k}`);
      const times = guess(highsRuntime(), programme, mark, 1, watching());
      if (times === null) continue;
      found++;
      expect(holds(programme, mark, times)).toBe(true);
    }
    expect(found).toBeGreaterThan(0);
  });
});
