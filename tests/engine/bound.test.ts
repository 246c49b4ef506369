/** Bounds from duals, in whole numbers: what they claim by hand, and when they must claim nothing. */
import { describe, expect, it } from 'vitest';
import { cuttingStock } from '../../bench/tools/problems.js';
import { countBound, type Duals, dualBound, feasibleDuals } from '../../src/solve/bounds/bound.js';
import { prepare } from '../../src/solve/instance/instance.js';

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
