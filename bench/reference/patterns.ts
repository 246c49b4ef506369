/** All feasible proper patterns, from the definition in src/solve/problem.ts, by depth-first enumeration. */
import type { Kinds, Problem, Stock } from '../../src/solve/problem.js';

/** Length a segment's counts use: start of the first kind, weights, and joints in index order. */
export function usedLength(problem: Problem, counts: readonly number[]): number {
  let used = 0;
  let last = -1;
  for (const [i, item] of problem.items.entries()) {
    const count = counts[i] ?? 0;
    if (count === 0) continue;
    used += last === -1 ? startOf(problem.kinds, item.kind) : jointOf(problem.kinds, last, item.kind);
    used += count * item.weight + (count - 1) * jointOf(problem.kinds, item.kind, item.kind);
    last = item.kind;
  }
  return used;
}

function startOf(kinds: Kinds | null, kind: number): number {
  return kinds?.start[kind] ?? 0;
}

function jointOf(kinds: Kinds | null, from: number, to: number): number {
  return kinds?.joint[from]?.[to] ?? 0;
}

/** Thrown when an enumeration passes the limit it was given. */
export class TooManyPatterns extends Error {}

/** Every count vector one segment can hold, the empty one included. */
export function segmentPatterns(problem: Problem, capacity: number, limit = Infinity): number[][] {
  const { items, kinds } = problem;
  const found: number[][] = [];
  const counts = new Array<number>(items.length).fill(0);
  const descend = (from: number, used: number, last: number): void => {
    if (found.length >= limit) throw new TooManyPatterns(`more than ${limit} patterns`);
    found.push([...counts]);
    for (let i = from; i < items.length; i++) {
      const item = items[i];
      if (item === undefined) continue;
      let length =
        used + (last === -1 ? startOf(kinds, item.kind) : jointOf(kinds, last, item.kind)) + item.weight;
      for (let count = 1; count <= item.demand && length <= capacity; count++) {
        counts[i] = count;
        descend(i + 1, length, item.kind);
        length += item.weight + jointOf(kinds, item.kind, item.kind);
      }
      counts[i] = 0;
    }
  };
  descend(0, 0, -1);
  return found;
}

/**
 * Patterns to which nothing can be added; enough for covering models when items are of one kind. Items are taken
 * longest first and each branch ends in one leaf, so the non-maximal ones are never stored.
 */
export function maximalPatterns(problem: Problem, capacity: number, limit = Infinity): number[][] {
  if (problem.kinds !== null) throw new RangeError('maximal patterns are only enough for items of one kind');
  const order = [...problem.items.keys()].sort((a, b) => weightOf(problem, b) - weightOf(problem, a));
  const found: number[][] = [];
  const counts = new Array<number>(order.length).fill(0);
  const descend = (at: number, left: number): void => {
    const i = order[at];
    if (i === undefined) {
      const full = problem.items.every((item, j) => (counts[j] ?? 0) >= item.demand || item.weight > left);
      if (!full) return;
      if (found.length >= limit) throw new TooManyPatterns(`more than ${limit} patterns`);
      found.push([...counts]);
      return;
    }
    const weight = weightOf(problem, i);
    const most = Math.min(problem.items[i]?.demand ?? 0, Math.floor(left / weight));
    for (let count = most; count >= 0; count--) {
      counts[i] = count;
      descend(at + 1, left - count * weight);
    }
    counts[i] = 0;
  };
  descend(0, capacity);
  return found;
}

function weightOf(problem: Problem, item: number): number {
  return problem.items[item]?.weight ?? 0;
}

/**
 * Cost of using n pieces of a stock under one goal; the purchase rule applies to goal 0. Whole packs are bought, and no
 * more than the supply: Infinity when n pieces cannot be bought at all.
 */
export function stockCost(stock: Stock, goal: number, pieces: number): number {
  const { purchase } = stock;
  if (goal > 0 || purchase === null) return pieces * (stock.costs[goal] ?? 0);
  if (pieces === 0) return 0;
  let least = Infinity;
  for (const [t, tier] of purchase.tiers.entries()) {
    const sold = Math.ceil(Math.max(pieces, tier.from) / purchase.pack) * purchase.pack;
    const most = Math.min((purchase.tiers[t + 1]?.from ?? Infinity) - 1, stock.supply ?? Infinity);
    if (sold <= most) least = Math.min(least, sold * tier.price);
  }
  return least;
}
