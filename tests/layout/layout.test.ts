import { describe, expect, it } from 'vitest';
import { type Shared, type Slots, shareOut } from '../../src/layout/shares.js';
import { visitOrder } from '../../src/layout/visits.js';
import { stopsOf } from '../../src/stops/stops.js';
import { dice } from '../plan/batches.js';

function slots(...counts: readonly (number | readonly number[])[]): Slots[] {
  return counts.flatMap((stick, s) => [stick].flat().map((count, lane) => ({ stick: s, lane, count })));
}

function whole(shares: Shared): boolean {
  return new Set(shares.map((share) => share.stick)).size === 1;
}

/** Most pairs that can stay on one stick: half of each stick's rails. */
function mostWhole(given: readonly Slots[]): number {
  const perStick = new Map<number, number>();
  for (const { stick, count } of given) perStick.set(stick, (perStick.get(stick) ?? 0) + count);
  return [...perStick.values()].reduce((sum, count) => sum + Math.floor(count / 2), 0);
}

describe('pairs on sticks', () => {
  it('keeps pairs on one stick, and shares only the odd rails', () => {
    const pairs = shareOut(slots(3, 2, 5), [{ size: 2, count: 5 }]).get(2)!;
    expect(pairs.filter(whole)).toHaveLength(4);
    expect(
      pairs
        .filter((pair) => !whole(pair))
        .flat()
        .map((share) => share.stick),
    ).toEqual([0, 2]);
  });

  it('keeps a pair on one stick across a flaw rather than split it between sticks', () => {
    const pairs = shareOut(slots(1, [1, 1], 1), [{ size: 2, count: 2 }]).get(2)!;
    expect(pairs.map(whole)).toEqual([true, false]);
  });

  it('splits no more pairs than it must, and uses every place once', () => {
    const at = dice('shares');
    for (let round = 0; round < 500; round++) {
      const counts = Array.from({ length: at.whole(1, 8) }, () =>
        Array.from({ length: at.whole(1, 3) }, () => at.whole(0, 5)),
      );
      if (counts.flat().reduce((sum, count) => sum + count, 0) % 2 === 1) counts.push([1]);
      const given = slots(...counts);
      const total = given.reduce((sum, { count }) => sum + count, 0);
      const pairs = shareOut(given, [{ size: 2, count: total / 2 }]).get(2)!;
      expect(pairs.filter(whole)).toHaveLength(mostWhole(given));
      const used = new Map<string, number>();
      for (const { stick, lane, count } of pairs.flat()) {
        used.set(`${stick}/${lane}`, (used.get(`${stick}/${lane}`) ?? 0) + count);
      }
      for (const { stick, lane, count } of given) expect(used.get(`${stick}/${lane}`) ?? 0).toBe(count);
    }
  });

  it('serves rings and pairs from the same places', () => {
    const shared = shareOut(slots(7, 4, 3), [
      { size: 2, count: 4 },
      { size: 6, count: 1 },
    ]);
    expect(shared.get(6)).toEqual([[{ stick: 0, lane: 0, count: 6 }]]);
    expect(shared.get(2)).toHaveLength(4);
  });
});

describe('visits', () => {
  function fetched(units: readonly Shared[]): readonly number[] {
    const visits: number[] = [];
    for (const unit of visitOrder(units)) {
      for (const { stick } of units[unit]!) if (visits.at(-1) !== stick) visits.push(stick);
    }
    return visits;
  }

  it('goes on to the stick that has the other rail', () => {
    const pairs = shareOut(slots(3, 2, 3), [{ size: 2, count: 4 }]).get(2)!;
    expect(fetched(pairs)).toEqual([0, 2, 1]);
  });

  it('fetches every stick once at a setting, and cuts every pair once', () => {
    const at = dice('visits');
    for (let round = 0; round < 500; round++) {
      const counts = Array.from({ length: at.whole(2, 12) }, () => at.whole(1, 6));
      if (counts.reduce((sum, count) => sum + count, 0) % 2 === 1) counts[0]! += 1;
      const total = counts.reduce((sum, count) => sum + count, 0);
      const pairs = shareOut(slots(...counts), [{ size: 2, count: total / 2 }]).get(2)!;
      const order = visitOrder(pairs);
      expect(new Set(order).size).toBe(pairs.length);
      const visits = fetched(pairs);
      expect(visits.toSorted((a, b) => a - b)).toEqual(counts.map((_, stick) => stick));
    }
  });
});

describe('stops', () => {
  it('serves all angles of one setting at one stop, and names the gauge stick', () => {
    const run = { run: 0, setting: 500_000, second: null, kind: 0, units: [] };
    const runs = [run, { ...run, kind: 1 }, { ...run, second: 400_000 }, { ...run, setting: 300_000 }];
    const stops = stopsOf(runs, new Map([[300_000, 'G-1']]));
    expect(stops.map(({ setting, second, gauge }) => [setting, second, gauge])).toEqual([
      [500_000, null, null],
      [500_000, 400_000, null],
      [300_000, null, 'G-1'],
    ]);
  });
});
