/** Dual inequalities at the root (Ben Amor and Valério de Carvalho 2005): what they leave behind is patterns, and the same value. */
import { expect, it } from 'vitest';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import { Master } from '../../src/solve/columns/master.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { watchOf } from '../../src/solve/instance/watch.js';
import { simplexLp } from '../../src/solve/lp/simplex-lp.js';
import { Generation } from '../../src/solve/search/generation.js';

function rootOf(name: string, substitutes: boolean): { value: number; columns: number } {
  const random = seeded(name);
  const stick = random.int(200, 400);
  const [least, most] = [Math.ceil(stick / 7), Math.floor(stick / 2)];
  const sizes = [...new Set(Array.from({ length: random.int(6, 14) }, () => random.int(least, most)))];
  const demand = sizes.map(() => random.int(1, 9));
  const instance = prepare(cuttingStock(stick, sizes, demand));
  const watch = watchOf({ now: () => 0, deadline: Infinity });
  const goal = { cost: [1], rows: [], unmade: null };
  const master = new Master(instance, goal, new Knapsack(instance), simplexLp, watch, substitutes);
  // A bound that never rises, so that the root is solved to the end.
  const at = { bound: 0, done: false, watch, prove: (): null => null };
  expect(new Generation(master, null, 1, at).converge({ full: true, sharp: true })).toBe(true);
  const value = master.solve(1)!.objective;
  expect(master.leavesOut()).toBe(false);
  const made = new Float64Array(instance.n);
  for (const [j, { items, counts }] of master.columns.entries()) {
    let length = 0;
    items.forEach((i, e) => {
      length += instance.weight[i]! * counts[e]!;
      expect(counts[e]!).toBeLessThanOrEqual(instance.demand[i]!);
      made[i]! += counts[e]! * master.at(j);
    });
    expect(length).toBeLessThanOrEqual(instance.largest);
  }
  made.forEach((sum, i) => {
    expect(sum).toBeGreaterThan(instance.demand[i]! - 1e-6);
  });
  return { value, columns: master.columns.length };
}

it('solves the root to the value it has without, by patterns that hold no more of an item than are asked for', () => {
  let unlike = 0;
  for (let k = 0; k < 25; k++) {
    const [plain, quick] = [rootOf(`root ${k}`, false), rootOf(`root ${k}`, true)];
    expect(quick.value).toBeCloseTo(plain.value, 6);
    if (quick.columns !== plain.columns) unlike++;
  }
  expect(unlike).toBeGreaterThan(5);
});
