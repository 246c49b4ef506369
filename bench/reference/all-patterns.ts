/**
 * The whole problem as an integer programme over enumerated patterns (Kantorovich 1960; Gilmore and Gomory 1961),
 * solved by HiGHS: several stocks, supplies, segments, kinds, packs, price tiers and goals in order.
 *
 * One column a pattern and segment, one `pieces` column a stock: segments of a stock are tied by `Σ patterns of the
 * segment ≤ pieces`, which is exact because any choice of one pattern for each segment makes a piece.
 */
import type { Highs } from 'highs';
import type { Problem, Stock } from '../../src/solve/problem.js';
import { type HeldGoal, Mip, type MipAnswer } from './mip.js';
import { maximalPatterns, segmentPatterns } from './patterns.js';

export interface ReferenceOptions {
  readonly seconds?: number;
  /** Most patterns enumerated for one segment; TooManyPatterns beyond. */
  readonly limit?: number;
}

export interface Reference {
  readonly kind: 'optimal' | 'infeasible' | 'limit';
  /** Value of each goal solved to optimality, earlier ones held; shorter than `goals` when the limit was hit. */
  readonly values: readonly number[];
  /** The last solve HiGHS made. */
  readonly last: MipAnswer | null;
  readonly columns: number;
}

/** Optimum of every goal in order; with `held`, goals before `held.length` are only kept at those values or below. */
export function allPatterns(
  highs: Highs,
  problem: Problem,
  options: ReferenceOptions = {},
  held: readonly number[] = [],
): Reference {
  const { mip, goals } = build(problem, options.limit ?? 200_000);
  const limits: HeldGoal[] = held.map((limit, goal) => ({ costs: goals[goal] ?? [], limit }));
  const values: number[] = [];
  let last: MipAnswer | null = null;
  for (let goal = held.length; goal < problem.goals; goal++) {
    const costs = goals[goal] ?? [];
    last = mip.solve(highs, { seconds: options.seconds ?? 60 }, costs, limits);
    if (last.status !== 'optimal') return { kind: last.status, values, last, columns: mip.columns };
    // Costs are whole, so the exact value of the rounded solution is whole; anything else is HiGHS's rounding.
    const value = costs.reduce((sum, cost, j) => sum + cost * Math.round(last?.x[j] ?? 0), 0);
    if (Math.abs(value - last.value) > 1e-3) throw new Error(`HiGHS value ${last.value} is not ${value}`);
    values.push(value);
    limits.push({ costs, limit: value });
  }
  return { kind: 'optimal', values, last, columns: mip.columns };
}

/** The LP relaxation's optimum for goal 0, in floating point. */
export function allPatternsRelaxed(highs: Highs, problem: Problem, limit = 200_000): number {
  const { mip, goals } = build(problem, limit);
  return mip.solve(highs, { seconds: 60, relaxed: true }, goals[0]).value;
}

function build(problem: Problem, limit: number): { mip: Mip; goals: number[][] } {
  const mip = new Mip();
  const goals: number[][] = Array.from({ length: problem.goals }, () => []);
  // With one kind of item a pattern stays feasible when items are dropped, so covering with maximal patterns is exact.
  // Set-ups make it cheaper to leave them out, so that every pattern counts.
  const { setups } = problem;
  if (setups && problem.stocks.some(({ segments }) => segments.length > 1)) {
    throw new RangeError('set-ups are counted once a piece: no flawed stocks here');
  }
  const covering = problem.kinds === null && !setups;
  const rows = problem.items.map((item) => mip.row(item.demand, covering ? Infinity : item.demand));
  const demand = problem.items.reduce((sum, item) => sum + item.demand, 0);
  for (const stock of problem.stocks) {
    const most = Math.min(stock.supply ?? demand, demand);
    const cost = stock.costs.map(
      (c, goal) => (goal === 0 && stock.purchase !== null ? 0 : c) + (goal === 0 ? (setups?.piece ?? 0) : 0),
    );
    const add = (
      entries: readonly (readonly [number, number])[],
      costs: readonly number[],
      upper: number,
    ): void => {
      mip.column(0, upper, entries);
      for (const [goal, list] of goals.entries()) list.push(costs[goal] ?? 0);
    };
    const ties = stock.segments.map(() => mip.row(-Infinity, 0));
    const bought = stock.purchase === null ? -1 : mip.row(-Infinity, 0);
    const pieces: [number, number][] = ties.map((row) => [row, -1]);
    if (bought >= 0) pieces.push([bought, 1]);
    add(pieces, cost, most);
    for (const [s, capacity] of stock.segments.entries()) {
      const patterns = covering
        ? maximalPatterns(problem, capacity, limit)
        : segmentPatterns(problem, capacity, limit);
      for (const counts of patterns) {
        const entries: [number, number][] = [[ties[s] ?? 0, 1]];
        for (const [i, count] of counts.entries()) if (count > 0) entries.push([rows[i] ?? 0, count]);
        const charge = counts.reduce((sum, count, i) => sum + (count > 0 ? (setups?.item[i] ?? 0) : 0), 0);
        if (entries.length > 1) add(entries, [charge], most);
      }
    }
    if (stock.purchase !== null) addPurchase(mip, stock, bought, add, demand);
  }
  return { mip, goals };
}

/** Sold pieces cover used ones; each tier is a whole number of packs in its range, and at most one tier is taken. */
function addPurchase(
  mip: Mip,
  stock: Stock,
  bought: number,
  add: (entries: readonly (readonly [number, number])[], costs: readonly number[], upper: number) => void,
  demand: number,
): void {
  const { purchase } = stock;
  if (purchase === null) return;
  const { pack, tiers } = purchase;
  const one = mip.row(-Infinity, 1);
  for (const [t, tier] of tiers.entries()) {
    // Past demand and the tier's own start, more packs only cost more.
    const top = Math.min(
      (tiers[t + 1]?.from ?? Infinity) - 1,
      Math.max(demand, tier.from) + pack,
      stock.supply ?? Infinity,
    );
    const least = Math.ceil(tier.from / pack);
    const greatest = Math.floor(top / pack);
    if (greatest < least) continue;
    const atLeast = mip.row(0, Infinity);
    const atMost = mip.row(-Infinity, 0);
    add(
      [
        [bought, -pack],
        [atLeast, 1],
        [atMost, 1],
      ],
      [tier.price * pack],
      greatest,
    );
    add(
      [
        [one, 1],
        [atLeast, -least],
        [atMost, -greatest],
      ],
      [],
      1,
    );
  }
}
