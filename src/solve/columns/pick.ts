import type { Instance } from '../instance/instance.js';
import { type Column, columnOf, fillOf } from './columns.js';
import type { Knapsack } from './knapsack.js';

/**
 * No piece of these segments is worth more. An item that lies on several of them is charged in each by the table, but
 * due once a piece: that much is given back.
 */
export function worthOf(knapsack: Knapsack, segments: Float64Array, charges: Float64Array | null): number {
  let worth = 0;
  for (const capacity of segments) worth += knapsack.upper(capacity);
  if (charges && segments.length > 1) worth += (segments.length - 1) * charges.reduce((sum, f) => sum + f, 0);
  return worth;
}

/** Patterns of a group whose first item is `first` may be worth that share more than they cost. */
export interface Candidate {
  readonly group: number;
  readonly first: number;
  readonly profit: number;
}

/** Nodes a search for one candidate may take where the grid only bounds it. */
const CANDIDATE_NODES = 300;
/** Searches in a row that find nothing before a round that has found something ends. */
const MOST_MISSES = 20;

/**
 * Diverse columns help more than the best ones alone: false for one that mostly repeats this round's, `used` so often an
 * item, else counted in. `first`: nothing has been added in this round, so that anything will do.
 */
export function diverse(items: Int32Array, used: Int32Array, first: boolean): boolean {
  let seen = 0;
  for (const i of items) if (used[i]! >= 2) seen++;
  if (!first && 2 * seen > items.length) return false;
  for (const i of items) used[i]!++;
  return true;
}

/**
 * Up to `most` patterns worth more than `allow` of their group, one a candidate, the most promising first; those that
 * mostly repeat the others are left out. `add` answers whether the column was new; `found`: whether any is there already.
 */
export function pickDiverse(
  instance: Instance,
  knapsack: Knapsack,
  candidates: Candidate[],
  allow: Float64Array,
  slack: number,
  most: number,
  found: boolean,
  add: (column: Column) => boolean,
): void {
  candidates.sort((a, b) => b.profit - a.profit || a.group - b.group || a.first - b.first);
  const used = new Int32Array(instance.n);
  const perGroup = new Int32Array(instance.groups.length);
  let added = 0;
  let misses = 0;
  for (const { group, first, profit } of candidates) {
    if (added >= most) return;
    if (perGroup[group]! >= 2 + 2 * Math.min(instance.groups[group]!.supply, most)) continue;
    const e = allow[group]!;
    const capacity = instance.groups[group]!.segments[0]!;
    const top = profit * (e + slack) + e;
    let value = -1;
    if (instance.unit === 1 && !instance.kinds) {
      value = knapsack.search(capacity, Math.max(e + slack, top - 2 * slack), CANDIDATE_NODES, first);
    }
    if (value < 0) value = knapsack.search(capacity, e + slack, CANDIDATE_NODES, first);
    if (value < 0) {
      if (++misses >= MOST_MISSES && (found || added > 0)) return;
      continue;
    }
    misses = 0;
    const fill = fillOf(knapsack.found);
    if (!diverse(fill.items, used, added === 0)) continue;
    if (add(columnOf(instance.n, group, [fill]))) {
      added++;
      perGroup[group]!++;
    }
  }
}
