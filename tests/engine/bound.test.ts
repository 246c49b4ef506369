/** Bounds from duals, in whole numbers: what they claim by hand, and when they must claim nothing. */
import { describe, expect, it } from 'vitest';
import { cuttingStock } from '../../bench/tools/problems.js';
import { seeded } from '../../bench/tools/random.js';
import { countBound, type Duals, dualBound, feasibleDuals } from '../../src/solve/bounds/bound.js';
import { fullest } from '../../src/solve/bounds/weight-duals.js';
import { Knapsack } from '../../src/solve/columns/knapsack.js';
import { prepare } from '../../src/solve/instance/instance.js';
import { UNCOUNTED } from '../../src/solve/instance/watch.js';

// Seven rails of 3 on sticks of 10: three a stick, so three sticks.
const instance = prepare(cuttingStock(10, [3], [7]));
const goal = { cost: [1], rows: [], unmade: null };

function duals(item: number, worth: number): Duals {
  return {
    scale: 3,
    item: Float64Array.of(item),
    supply: Float64Array.of(0),
    row: new Float64Array(0),
    worth: Float64Array.of(worth),
  };
}

describe('a bound from duals', () => {
  it('is what they are worth when no pattern is worth more than it costs', () => {
    const sound = feasibleDuals(instance, goal, duals(1, 3));
    expect(sound && dualBound(instance, goal, sound, 1)).toBe(3);
  });

  it('is scaled back when a pattern is', () => {
    // At 2 a rail a full stick is worth 6 where 3 is allowed: unscaled this would claim five sticks.
    const sound = feasibleDuals(instance, goal, duals(2, 6));
    expect(sound && dualBound(instance, goal, sound, 1)).toBe(3);
  });

  it('is not drawn from a worth that a double cannot hold', () => {
    const large = duals(1, 2 * Number.MAX_SAFE_INTEGER);
    expect(feasibleDuals(instance, goal, large)).toBeNull();
    expect(countBound(instance, goal, large, 100)).toBe(-1);
  });
});

describe('the most that one stick can be filled with', () => {
  it('is what all sums of rails say, to the rounding of a rail', () => {
    // Rails on a stop step of 1/32 in with a joint of 4.955 mm, two of each; all sums by dynamic programming, a byte a micrometre.
    for (let k = 0; k < 6; k++) {
      const random = seeded(`fullest ${k}`);
      const lengths = new Set<number>();
      while (lengths.size < 40) lengths.add(Math.round(random.int(280, 1300) * 793.75 + 4955));
      const stick = random.int(2_400_000, 3_658_000);
      const made = new Uint8Array(stick + 1);
      made[0] = 1;
      for (const length of lengths)
        for (let copy = 0; copy < 2; copy++)
          for (let sum = stick; sum >= length; sum--) if (made[sum - length] === 1) made[sum] = 1;
      const most = made.lastIndexOf(1);
      const problem = prepare(cuttingStock(stick, [...lengths], Array(40).fill(2)));
      const [holds] = fullest(problem, new Knapsack(problem, UNCOUNTED));
      expect(holds).toBeGreaterThanOrEqual(most);
      // A rail is rounded to a whole micrometre; a stick holds at most 16.
      expect(holds).toBeLessThanOrEqual(most + 16);
    }
  });
});
