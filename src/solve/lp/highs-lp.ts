import type { Highs } from 'highs';
import type { HighsRuntime } from './highs-runtime.js';
import type { Lp, LpFactory, LpResult, LpRow } from './lp.js';
import { SparseColumns } from './sparse.js';

/** Columns a row that the model holds at most, and after those that cost too much have been taken out. */
const MOST_HELD = 4;
const KEPT = 2;
/** Reduced costs that count as nothing. */
const DUAL_TOLERANCE = 1e-9;
/** Solves with columns put back before all are. */
const SIFTINGS = 8;

/**
 * Column generation meets ten times as many columns as there are rows, and most are never used again. So the model holds the
 * cheaper ones; the others are priced at its duals, and those worth more than they cost come back (sifting; Bixby, Gregory,
 * Lustig, Marsten and Shanno 1992).
 */
class HighsLp implements Lp {
  private readonly model;
  private readonly infinity: number;
  private readonly optimal: number;
  private readonly basic: number;
  private readonly rows: number;
  private readonly columns = new SparseColumns();
  /** Of each place of the model: the column there. */
  private held: number[] = [];
  /** By column: its place in the model, or −1. */
  private place = new Int32Array(1024).fill(-1);

  constructor(highs: Highs, rows: readonly LpRow[]) {
    this.infinity = highs.infinity;
    this.optimal = highs.constants.modelStatus.optimal;
    this.basic = highs.constants.basisStatus.basic;
    this.rows = rows.length;
    this.model = highs.createModel();
    // Primal simplex: after adding columns the last basis stays primal feasible (measured: half the time of dual).
    this.model.options.set({
      output_flag: false,
      presolve: 'off',
      solver: 'simplex',
      simplex_strategy: 4,
      primal_feasibility_tolerance: DUAL_TOLERANCE,
      dual_feasibility_tolerance: DUAL_TOLERANCE,
    });
    for (const row of rows) {
      this.model.addRow(this.limit(row.lower), this.limit(row.upper), { indices: [], values: [] });
    }
  }

  private limit(value: number): number {
    return value === Infinity ? this.infinity : value === -Infinity ? -this.infinity : value;
  }

  addColumn(cost: number, rows: Int32Array, values: Float64Array): void {
    const j = this.columns.count;
    this.columns.add(cost, rows, values);
    if (j >= this.place.length) {
      const place = new Int32Array(2 * j).fill(-1);
      place.set(this.place);
      this.place = place;
    }
    this.hold(j);
  }

  private hold(j: number): void {
    const { starts, rows, values, cost, closed } = this.columns;
    const [from, to] = [starts[j]!, starts[j + 1]!];
    const entries = { indices: rows.subarray(from, to), values: values.subarray(from, to) };
    this.model.addCol(cost[j]!, 0, closed[j] === 1 ? 0 : this.infinity, entries);
    this.place[j] = this.held.length;
    this.held.push(j);
  }

  setRow(row: number, lower: number, upper: number): void {
    this.model.changeRowBounds(row, this.limit(lower), this.limit(upper));
  }

  setUpper(column: number, upper: number): void {
    this.columns.closed[column] = upper === 0 ? 1 : 0;
    const place = this.place[column]!;
    if (place >= 0) this.model.changeColBounds(place, 0, this.limit(upper));
  }

  solve(seconds: number): LpResult {
    // HiGHS counts its limit from the model's creation, over all runs.
    this.model.options.set('time_limit', this.model.getRunTime() + Math.max(seconds, 0.001));
    for (let round = 0; ; round++) {
      this.model.run();
      const status = this.model.getModelStatus();
      const all = this.held.length === this.columns.count;
      if (status !== this.optimal) {
        // Without the columns taken out there may be no solution.
        if (all) return { status: 'failed', reason: `HiGHS model status ${status}` };
        this.putBack(null);
        continue;
      }
      const solution = this.model.getSolution();
      if (!all && this.putBack(round < SIFTINGS ? solution.rowDual : null)) continue;
      const x = new Float64Array(this.columns.count);
      for (let k = 0; k < this.held.length; k++) x[this.held[k]!] = solution.colValue[k]!;
      const objective = this.model.getObjectiveValue();
      if (this.held.length > MOST_HELD * this.rows) this.takeOut(solution.colDual);
      return { status: 'optimal', objective, x, duals: solution.rowDual };
    }
  }

  /** Columns worth more than they cost at these duals, or all, are held again; whether there were any. */
  private putBack(duals: Float64Array | null): boolean {
    const { place, columns } = this;
    const { starts, rows, values, cost, closed, count } = columns;
    let any = false;
    for (let j = 0; j < count; j++) {
      if (place[j]! >= 0) continue;
      if (duals) {
        if (closed[j] === 1) continue;
        let d = cost[j]!;
        for (let e = starts[j]!, to = starts[j + 1]!; e < to; e++) d -= duals[rows[e]!]! * values[e]!;
        if (d >= -DUAL_TOLERANCE) continue;
      }
      this.hold(j);
      any = true;
    }
    return any;
  }

  /** The dearest columns that are not basic are held no longer. */
  private takeOut(reduced: Float64Array): void {
    const { held, place, model, basic } = this;
    const { colStatus, rowStatus } = model.getBasis();
    const order = held.map((_, k) => k).filter((k) => colStatus[k] !== basic);
    order.sort((a, b) => reduced[b]! - reduced[a]! || a - b);
    const out = order.slice(0, Math.max(0, held.length - KEPT * this.rows)).sort((a, b) => a - b);
    const gone = new Uint8Array(held.length);
    for (const k of out) gone[k] = 1;
    const status = colStatus.filter((_, k) => gone[k] === 0);
    for (const j of held) place[j] = -1;
    this.held = held.filter((_, k) => gone[k] === 0);
    this.held.forEach((j, k) => {
      place[j] = k;
    });
    model.deleteCols({ kind: 'set', indices: Int32Array.from(out) });
    model.setBasis({ colStatus: status, rowStatus });
  }

  dispose(): void {
    this.model.dispose();
  }
}

export function highsLp(highs: HighsRuntime): LpFactory {
  return { name: 'highs', mostRows: Infinity, create: (rows) => new HighsLp(highs(), rows) };
}
