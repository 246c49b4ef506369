/** Sharing a cost, against published games and against the definition. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { cappedShares } from '../../src/night/capped.js';
import { type CostGame, isInCore, shareOut } from '../../src/night/game.js';

/** Every group of two or more but not all, with what it costs. */
function groupsOf(players: number, cost: (members: readonly number[]) => number): CostGame['groups'] {
  const groups: { members: number[]; limit: number }[] = [];
  for (let bits = 1; bits < 2 ** players - 1; bits++) {
    const members = Array.from({ length: players }, (_, i) => i).filter((i) => (bits & (1 << i)) !== 0);
    if (members.length > 1) groups.push({ members, limit: cost(members) });
  }
  return groups;
}

function gameOf(weights: readonly number[], cost: (members: readonly number[]) => number): CostGame {
  const all = weights.map((_, i) => i);
  return {
    total: cost(all),
    weights,
    limits: all.map((i) => cost([i])),
    groups: groupsOf(weights.length, cost),
  };
}

describe('shares with limits', () => {
  // The bankruptcy problem of the Talmud (Kethubot 93a; Aumann and Maschler, J. Economic Theory 36, 1985): claims of
  // 100, 200 and 300. Constrained equal awards of its estates, by the rule's definition (Thomson 2003); from memory.
  it.each([
    [100, [33, 33, 33]],
    [200, [66, 66, 66]],
    [300, [100, 100, 100]],
    [400, [100, 150, 150]],
    [500, [100, 200, 200]],
    [600, [100, 200, 300]],
  ])('gives constrained equal awards of %i', (estate, awards) => {
    const { shares, over } = cappedShares(estate, [1, 1, 1], [100, 200, 300]);
    expect(over).toBe(false);
    expect(shares.reduce((sum, share) => sum + share, 0)).toBe(estate);
    shares.forEach((share, i) => {
      expect(share - awards[i]!).toBeGreaterThanOrEqual(0);
      expect(share - awards[i]!).toBeLessThanOrEqual(1);
    });
  });

  it('adds up to the cent, keeps every limit, and is in proportion otherwise', () => {
    const { int, chance } = seeded('shares with limits');
    for (let round = 0; round < 500; round++) {
      const players = int(1, 9);
      const weights = Array.from({ length: players }, () => int(0, 50_000_000));
      const total = int(0, 100_000);
      const limits = weights.map(() => (chance(0.3) ? null : int(0, 60_000)));
      const { shares, over } = cappedShares(total, weights, limits);
      expect(shares.reduce((sum, share) => sum + share, 0)).toBe(total);
      if (over) continue;
      const free = shares.flatMap((share, i) => (weights[i] === 0 || share === limits[i] ? [] : [i]));
      shares.forEach((share, i) => {
        if (limits[i] !== null) expect(share).toBeLessThanOrEqual(limits[i]!);
        for (const j of free) {
          if (weights[i] === 0) continue;
          // Nobody pays more for a unit of weight than anyone below his limit, but for the cent that is rounded.
          expect((share - 1) * weights[j]!).toBeLessThanOrEqual((shares[j]! + 1) * weights[i]!);
        }
      });
    }
  });
});

describe('the core', () => {
  // Littlechild and Owen, A simple expression for the Shapley value in a special case, Management Science 20, 1973: a
  // runway's cost is that of the largest aircraft that uses it. The game is concave: its core holds the Shapley value, the
  // costs of each piece shared equally by all who need it. The four costs here are our own.
  const runway = [1_000, 2_500, 2_500, 7_000];
  const airport = gameOf([1, 1, 1, 1], (members) => Math.max(...members.map((i) => runway[i]!)));

  it('holds the Shapley value of an airport game, and our shares', () => {
    const shapley = [250, 250 + 500, 250 + 500, 250 + 500 + 4_500];
    expect(isInCore(airport, shapley)).toBe(true);
    const found = shareOut(airport);
    expect(found.core).toBe('within');
    expect(isInCore(airport, found.shares)).toBe(true);
    // By weight alone the small ones would pay for the long runway.
    expect(isInCore(airport, [1_750, 1_750, 1_750, 1_750])).toBe(false);
  });

  // Aumann and Maschler 1985: the nucleolus of the bankruptcy game with claims 100, 200, 300 is what the Talmud divides. As
  // a game of costs: each group pays its claims, or what is left for it. From memory.
  it.each([
    [100, [3_333, 3_333, 3_334]],
    [200, [5_000, 7_500, 7_500]],
    [300, [5_000, 10_000, 15_000]],
  ])('holds the nucleolus of the Talmud for an estate of %i', (estate, nucleolus) => {
    const claims = [10_000, 20_000, 30_000];
    const most = (members: readonly number[]): number =>
      Math.min(
        estate * 100,
        members.reduce((sum, i) => sum + claims[i]!, 0),
      );
    const game = gameOf([1, 1, 1], most);
    expect(isInCore(game, nucleolus)).toBe(true);
    expect(isInCore(game, shareOut(game).shares)).toBe(true);
  });

  // Three who need two of them to save all there is to save: the majority game, whose core is empty (von Neumann and
  // Morgenstern 1944), by the balanced family of its three pairs.
  it('is proven empty for the majority game', () => {
    const majority = gameOf([1, 1, 1], (members) =>
      members.length === 1 ? 100 : members.length === 2 ? 100 : 200,
    );
    expect(shareOut(majority).core).toBe('empty');
  });

  it('is found whenever every group has one', () => {
    const { int, pick } = seeded('cores of random games');
    const seen = { within: 0, empty: 0, unknown: 0 };
    for (let round = 0; round < 200; round++) {
      const players = int(3, 5);
      const bins = Array.from({ length: players }, () => int(1, 9));
      // What needs a whole number of sticks of 10: the game of this project, small.
      const price = pick([700, 999, 1_234]);
      const cost = (members: readonly number[]): number =>
        price * Math.ceil(members.reduce((sum, i) => sum + bins[i]!, 0) / 10);
      const game = gameOf(bins, cost);
      const { core, shares } = shareOut(game);
      seen[core] += 1;
      expect(shares.reduce((sum, share) => sum + share, 0)).toBe(game.total);
      if (core === 'within') expect(isInCore(game, shares)).toBe(true);
      else expect(isInCore(game, shares)).toBe(false);
    }
    expect(seen.within).toBeGreaterThan(20);
    expect(seen.empty).toBeGreaterThan(20);
    // Where only fractions of a cent would do.
    expect(seen.unknown).toBeLessThan(3);
  });
});
