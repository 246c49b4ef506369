/**
 * The small linear-programming interface the master problem needs, so that libraries can be exchanged and one
 * conformance suite run against each. Nothing here is trusted for a claim: bounds are re-proved in whole numbers.
 */
export interface LpRow {
  /** −Infinity when the row has no lower limit. */
  readonly lower: number;
  /** Infinity when the row has no upper limit. */
  readonly upper: number;
}

export interface LpOptimal {
  readonly status: 'optimal';
  readonly objective: number;
  /** One value a column, in the order they were added. */
  readonly x: Float64Array;
  /** One dual a row; ≥ 0 for a row with a lower limit, ≤ 0 for one with an upper limit (minimisation). */
  readonly duals: Float64Array;
}

export interface LpFailed {
  readonly status: 'failed';
  readonly reason: string;
}

export type LpResult = LpOptimal | LpFailed;

export interface Lp {
  /** Adds a column with limits 0 and Infinity. Columns count from 0. */
  addColumn(cost: number, rows: Int32Array, values: Float64Array): void;
  setRow(row: number, lower: number, upper: number): void;
  /** Only 0 (column out of use) and Infinity are used. */
  setUpper(column: number, upper: number): void;
  /** Solves from the last basis where the library can; gives up after about `seconds`. */
  solve(seconds: number): LpResult;
  dispose(): void;
}

export interface LpFactory {
  readonly name: string;
  /** Most rows this library should be handed; beyond that it has been seen to cycle or crawl. */
  readonly mostRows: number;
  /** The same in the search over pairs, whose columns hold a few rails each; by default as `mostRows`. */
  readonly mostPairRows?: number;
  create(rows: readonly LpRow[]): Lp;
}
