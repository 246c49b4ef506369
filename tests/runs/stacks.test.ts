/** Fewest sticks begun at once, against every order of the turns (dynamic programme over all sets of turns). */
import { describe, expect, it } from 'vitest';
import { fewestBegun } from '../../src/runs/stacks.js';
import { dice } from '../plan/batches.js';

/** Begun while each turn of an order is cut, from its first turn to its last. */
function most(sticks: readonly (readonly number[])[], order: readonly number[]): number {
  const place = new Map(order.map((turn, at) => [turn, at]));
  return order.reduce((peak, _, at) => {
    const begun = sticks.filter((turns) => {
      const places = turns.map((turn) => place.get(turn)!);
      return Math.min(...places) <= at && at <= Math.max(...places);
    });
    return Math.max(peak, begun.length);
  }, 0);
}

/** The least peak over all orders of `turns` turns: sets of those already cut. */
function exhaustive(sticks: readonly (readonly number[])[], turns: number): number {
  const masks = sticks.map((own) => own.reduce((mask, turn) => mask | (1 << turn), 0));
  const best = new Int32Array(1 << turns).fill(1e6);
  best[0] = 0;
  for (let done = 0; done < 1 << turns; done++) {
    for (let turn = 0; turn < turns; turn++) {
      const next = done | (1 << turn);
      if (next === done) continue;
      const begun = masks.filter((mask) => (mask & next) !== 0 && (mask & ~done) !== 0).length;
      best[next] = Math.min(best[next]!, Math.max(best[done]!, begun));
    }
  }
  return best.at(-1)!;
}

describe('the order with fewest sticks begun', () => {
  it('is that of an exhaustive search, on 400 seeded orders', () => {
    for (let seed = 0; seed < 400; seed++) {
      const at = dice(`stacks ${seed}`);
      const turns = at.whole(2, 9);
      const sticks = Array.from({ length: at.whole(1, 12) }, () => {
        const own = new Set([at.whole(0, turns - 1)]);
        for (let more = at.whole(1, 3); more > 0; more--) own.add(at.whole(0, turns - 1));
        return [...own].sort((a, b) => a - b);
      });
      const met = [...new Set(sticks.flat())].sort((a, b) => a - b);
      const dense = sticks.map((own) => own.map((turn) => met.indexOf(turn)));
      const found = fewestBegun(dense, 1e6);
      expect([...found.order].sort((a, b) => a - b)).toEqual([...met.keys()]);
      const fewest = exhaustive(dense, met.length);
      expect([seed, found.most, found.bound, most(dense, found.order)]).toEqual([
        seed,
        fewest,
        fewest,
        fewest,
      ]);
    }
  });

  it('claims no more than it knows when it is not let finish', () => {
    const at = dice('stacks cut short');
    const sticks = Array.from({ length: 40 }, () => [
      ...new Set([at.whole(0, 29), at.whole(0, 29), at.whole(0, 29)]),
    ]);
    const [short, whole] = [fewestBegun(sticks, 1), fewestBegun(sticks, 2e6)];
    expect(whole.bound).toBe(whole.most);
    expect(short.bound).toBeLessThanOrEqual(whole.most);
    expect(short.most).toBeGreaterThanOrEqual(whole.most);
    expect(most(sticks, short.order)).toBeLessThanOrEqual(short.most);
  });
});
