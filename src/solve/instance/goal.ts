import type { Column } from '../columns/columns.js';

/** A limit on weighted numbers of pieces: Σ over groups of weights[group] · pieces ≤ limit; whole numbers. */
export interface CountRow {
  readonly weights: readonly number[];
  readonly limit: number;
  /** What each item cut from a piece adds, however many of it are: as `SearchGoal.setup`. */
  readonly setup?: Float64Array | null;
}

/** What one search minimises over the instance's groups, earlier goals held by rows. */
export interface SearchGoal {
  /** Whole cost of one piece of each group. */
  readonly cost: readonly number[];
  readonly rows: readonly CountRow[];
  /** Whole cost of leaving one of item i unmade; null: everything must be made. */
  readonly unmade: readonly number[] | null;
  /** Set-up charges: whole cost of cutting item i from a piece at all, once a piece; absent or null: none. */
  readonly setup?: Float64Array | null;
}

/** All values of this goal are multiples of it, so a bound may be rounded up to one. */
export function grain(goal: SearchGoal): number {
  let g = 0;
  for (const c of [...goal.cost, ...(goal.unmade ?? []), ...(goal.setup ?? [])]) {
    let a = c;
    while (a !== 0) [a, g] = [g % a, a];
  }
  return g || 1;
}

function setUp(setup: Float64Array | null | undefined, { items }: Column): number {
  let sum = 0;
  if (setup) for (const i of items) sum += setup[i]!;
  return sum;
}

/** What one piece cut like this costs, set-ups included. */
export function columnCost(goal: SearchGoal, column: Column): number {
  return goal.cost[column.group]! + setUp(goal.setup, column);
}

export function columnWeight(row: CountRow, column: Column): number {
  return row.weights[column.group]! + setUp(row.setup, column);
}

export function hasSetups(goal: SearchGoal): boolean {
  return goal.setup != null || goal.rows.some(({ setup }) => setup != null);
}

/**
 * The least that set-ups come to in any plan that makes this demand: an item needs a piece for every `most[i]` of it,
 * the most that one piece holds.
 */
export function leastSetups(goal: SearchGoal, demand: Int32Array, most: Int32Array): number {
  let sum = 0;
  goal.setup?.forEach((charge, i) => {
    if (demand[i]! > 0) sum += charge * Math.ceil(demand[i]! / Math.max(1, most[i]!));
  });
  return sum;
}
