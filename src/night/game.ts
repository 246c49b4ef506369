/**
 * Sharing the cost of what several need together, so that no group pays more than it would without the others: shares in
 * the core of a game of costs (Gillies 1959). Where no such shares are, that is proven by a balanced family of groups
 * (Bondareva 1963, Shapley 1967). A library says where to look; what is claimed is checked in whole numbers.
 */
import solver from 'javascript-lp-solver';
import type { Cents } from '../terms.js';
import { cappedShares } from './capped.js';

export interface GroupLimit {
  /** Indices of two or more players. */
  readonly members: readonly number[];
  readonly limit: Cents;
}

export interface CostGame {
  readonly total: Cents;
  /** Whole numbers the shares are in proportion to. */
  readonly weights: readonly number[];
  /** What each pays at most; null: not known. */
  readonly limits: readonly (Cents | null)[];
  readonly groups: readonly GroupLimit[];
}

export interface GameShares {
  readonly shares: readonly Cents[];
  readonly rule: 'length' | 'limited' | 'core';
  /** `within`: nobody and no group of these is above its limit; `empty`: no such shares exist. */
  readonly core: 'within' | 'empty' | 'unknown';
}

// The package's types describe a CommonJS module; what Node loads is its ES module, whose default is the solver.
const lp = solver as unknown as (typeof solver)['default'];

const SOLVE_MS = 2_000;
/** Weights of small balanced families are multiples of one part in so many. */
const PARTS_MOST = 60;

function paid(shares: readonly Cents[], members: readonly number[]): Cents {
  return members.reduce((sum, i) => sum + shares[i]!, 0);
}

/** Nobody and no group pays more than its limit, and the shares are the total. */
export function isInCore({ total, limits, groups }: CostGame, shares: readonly number[]): boolean {
  const all = shares.map((_, i) => i);
  return (
    paid(shares, all) === total &&
    shares.every((share, i) => share >= 0 && (limits[i] === null || share <= limits[i]!)) &&
    groups.every(({ members, limit }) => paid(shares, members) <= limit)
  );
}

interface Limit {
  readonly members: readonly number[];
  readonly limit: Cents;
}

function limitsOf({ limits, groups }: CostGame): readonly Limit[] {
  const single = limits.flatMap((limit, i) => (limit === null ? [] : [{ members: [i], limit }]));
  return [...single, ...groups];
}

type LpAnswer = Readonly<Record<string, number | boolean>>;

function solve(model: {
  readonly constraints: Record<string, object>;
  readonly variables: Record<string, Record<string, number>>;
  readonly ints?: Record<string, 1>;
}): LpAnswer | null {
  const whole = { optimize: 'goal', opType: 'min', timeout: SOLVE_MS, ...model };
  const found = lp.Solve(whole as Parameters<typeof lp.Solve>[0]) as unknown as LpAnswer;
  return found['feasible'] === true ? found : null;
}

/** Shares in the core with the least sum of differences from `near`; null where the library finds none. */
function nearest(game: CostGame, near: readonly Cents[]): readonly Cents[] | null {
  const constraints: Record<string, object> = { total: { equal: game.total } };
  const variables: Record<string, Record<string, number>> = {};
  const ints: Record<string, 1> = {};
  const limits = limitsOf(game);
  limits.forEach(({ limit }, k) => {
    constraints[`c${k}`] = { max: limit };
  });
  near.forEach((share, i) => {
    constraints[`d${i}`] = { equal: share };
    const row: Record<string, number> = { total: 1, [`d${i}`]: 1, goal: 0 };
    limits.forEach(({ members }, k) => {
      if (members.includes(i)) row[`c${k}`] = 1;
    });
    variables[`x${i}`] = row;
    variables[`up${i}`] = { [`d${i}`]: -1, goal: 1 };
    variables[`down${i}`] = { [`d${i}`]: 1, goal: 1 };
    ints[`x${i}`] = 1;
  });
  const found = solve({ constraints, variables, ints });
  if (found === null) return null;
  const shares = near.map((_, i) => Math.round(Number(found[`x${i}`] ?? 0)));
  return isInCore(game, shares) ? shares : null;
}

/** Whether a balanced family of groups, together, would pay less than the total: then there is no core. */
function provenEmpty(game: CostGame): boolean {
  const limits = limitsOf(game);
  const players = game.weights.map((_, i) => i);
  const constraints = Object.fromEntries(players.map((i) => [`p${i}`, { equal: 1 }]));
  const variables = Object.fromEntries(
    limits.map(({ members, limit }, k) => [
      `w${k}`,
      { goal: limit, ...Object.fromEntries(members.map((i) => [`p${i}`, 1])) },
    ]),
  );
  const found = solve({ constraints, variables });
  if (found === null) return false;
  for (let parts = 1; parts <= PARTS_MOST; parts++) {
    const counts = limits.map((_, k) => Math.round(Number(found[`w${k}`] ?? 0) * parts));
    const balanced = players.every(
      (i) =>
        limits.reduce((sum, { members }, k) => sum + (members.includes(i) ? counts[k]! : 0), 0) === parts,
    );
    const cost = limits.reduce((sum, { limit }, k) => sum + limit * counts[k]!, 0);
    if (balanced && counts.every((count) => count >= 0) && cost < game.total * parts) return true;
  }
  return false;
}

/** In proportion to the weights, corrected by what each, and then each group, pays at most. */
export function shareOut(game: CostGame): GameShares {
  const { total, weights, limits, groups } = game;
  const { shares, over } = cappedShares(total, weights, limits);
  const free = cappedShares(
    total,
    weights,
    weights.map(() => null),
  ).shares;
  const rule = shares.every((share, i) => share === free[i]) ? 'length' : 'limited';
  if (over) return { shares, rule, core: 'empty' };
  if (groups.every(({ members, limit }) => paid(shares, members) <= limit)) {
    return { shares, rule, core: 'within' };
  }
  const better = nearest(game, shares);
  if (better !== null) return { shares: better, rule: 'core', core: 'within' };
  return { shares, rule, core: provenEmpty(game) ? 'empty' : 'unknown' };
}
