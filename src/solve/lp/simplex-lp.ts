import type { Lp, LpFactory, LpResult, LpRow } from './lp.js';
import { Simplex } from './simplex.js';

/** Beyond this an inverse that is written out costs more than it saves; measured, see DEVELOPERS.md. */
const MOST_ROWS = 300;
const MOST_PAIR_ROWS = 700;
/** Runs from an inverse made anew before it is given up. */
const ATTEMPTS = 3;
/** Values that are rounding. */
const DUST = 1e-11;

/** Pairstop's own simplex behind the interface. */
class SimplexLp implements Lp {
  private readonly simplex: Simplex;
  private begun = false;
  private stale = false;

  constructor(private readonly rows: readonly LpRow[]) {
    this.simplex = new Simplex(rows);
  }

  addColumn(cost: number, rows: Int32Array, values: Float64Array): void {
    this.simplex.columns.add(cost, rows, values);
  }

  setRow(row: number, lower: number, upper: number): void {
    const { simplex } = this;
    const limit = simplex.hasUpper(row) ? upper : lower;
    if (simplex.limit[row] === limit) return;
    simplex.limit[row] = limit;
    this.stale = true;
  }

  setUpper(column: number, upper: number): void {
    this.simplex.columns.closed[column] = upper === 0 ? 1 : 0;
  }

  solve(seconds: number): LpResult {
    const { simplex } = this;
    const end = performance.now() + 1000 * seconds;
    if (!this.begun) simplex.begin();
    else if (this.stale) simplex.evaluate();
    this.begun = true;
    this.stale = false;
    let reason = '';
    for (let attempt = 0; attempt < ATTEMPTS; attempt++) {
      if (attempt > 0) simplex.invert();
      const ended = simplex.run(end);
      if (ended === 'optimal') return this.read();
      reason = `simplex: ${ended}`;
      // Told twice, from an inverse made anew, it is so.
      if (ended === 'out of time' || (attempt > 0 && ended !== 'rounding')) break;
    }
    return { status: 'failed', reason };
  }

  private read(): LpResult {
    const { head, exact, columns, duals } = this.simplex;
    const m = this.rows.length;
    const x = new Float64Array(columns.count);
    let objective = 0;
    for (let r = 0; r < m; r++) {
      const j = head[r]! - m;
      if (j < 0 || exact[r]! <= DUST) continue;
      x[j] = exact[r]!;
      objective += exact[r]! * columns.cost[j]!;
    }
    return { status: 'optimal', objective, x, duals: duals.slice() };
  }

  dispose(): void {
    this.simplex.columns.count = 0;
  }
}

/** Pairstop's own simplex: for masters too large for javascript-lp-solver, measured against HiGHS in DEVELOPERS.md. */
export const simplexLp: LpFactory = {
  name: 'simplex',
  mostRows: MOST_ROWS,
  mostPairRows: MOST_PAIR_ROWS,
  create: (rows) => new SimplexLp(rows),
};
