/** Rails at the edge to a stick more: how they are made, and the engine on both sides of it. */
import { describe, expect, it } from 'vitest';
import { allPatterns } from '../../bench/reference/all-patterns.js';
import { peerHighs } from '../../bench/reference/mip.js';
import { critical, edgeOf, lengthened } from '../../bench/tools/critical.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import type { Problem, Proof } from '../../src/solve/problem.js';
import { solveChecked } from './checked.js';

const engine = createEngine({ highs: highsRuntime });

/** Not by the clock: all of these are proven within a second or two. */
function proofOf(problem: Problem): Proof {
  const outcome = solveChecked(engine, problem, { ms: 1e6 });
  if (outcome.kind !== 'solved') throw new Error('no plan');
  return outcome.proofs[0]!;
}

function lengthOf({ items }: Problem): number {
  return items.reduce((sum, { weight, demand }) => sum + weight * demand, 0);
}

describe('rails at the edge to a stick more', () => {
  it('are a unit longer with each step, and no longer than allowed', () => {
    const at = (steps: number): Problem => lengthened('steps', { rails: 30, longest: 70, stick: 100, steps });
    for (const steps of [1, 40, 300]) {
      expect(lengthOf(at(steps))).toBe(lengthOf(at(0)) + steps);
      expect(Math.max(...at(steps).items.map(({ weight }) => weight))).toBeLessThanOrEqual(70);
    }
    expect(() => at(30 * 70)).toThrow(RangeError);
  });

  it('are found at the first step that costs a stick, by the engine as by a programme over all patterns', async () => {
    const highs = await peerHighs();
    let there = 0;
    for (let k = 0; k < 12; k++) {
      const at = (steps: number): Problem =>
        lengthened(`edge ${k}`, { rails: 12, longest: 60, stick: 100, steps });
      const sticks = (steps: number): number => proofOf(at(steps)).value;
      const edge = edgeOf(60, sticks);
      const reference = (steps: number): number => allPatterns(highs, at(steps)).values[0]!;
      expect(reference(edge === null ? 60 : edge - 1)).toBe(reference(0));
      if (edge === null) continue;
      there++;
      expect(reference(edge)).toBe(reference(0) + 1);
    }
    expect(there).toBeGreaterThan(4);
  });

  it('need a stick more from one step to the next, proven on both sides', () => {
    for (const k of [2, 8, 14]) {
      const [after, before] = [proofOf(critical(k)!), proofOf(critical(k + 1)!)];
      expect([after.status, before.status]).toEqual(['optimal', 'optimal']);
      expect(after.value).toBe(before.value + 1);
    }
  });
});
