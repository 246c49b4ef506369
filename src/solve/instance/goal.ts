/** A limit on weighted numbers of pieces: Σ over groups of weights[group] · pieces ≤ limit; whole numbers. */
export interface CountRow {
  readonly weights: readonly number[];
  readonly limit: number;
}

/** What one search minimises over the instance's groups, earlier goals held by rows. */
export interface SearchGoal {
  /** Whole cost of one piece of each group. */
  readonly cost: readonly number[];
  readonly rows: readonly CountRow[];
  /** Whole cost of leaving one of item i unmade; null: everything must be made. */
  readonly unmade: readonly number[] | null;
}

/** All values of this goal are multiples of it, so a bound may be rounded up to one. */
export function grain(goal: SearchGoal): number {
  let g = 0;
  for (const c of [...goal.cost, ...(goal.unmade ?? [])]) {
    let a = c;
    while (a !== 0) [a, g] = [g % a, a];
  }
  return g || 1;
}
