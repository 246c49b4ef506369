import solver from 'javascript-lp-solver';
import type { Lp, LpFactory, LpResult, LpRow } from './lp.js';

// The package's types describe a CommonJS module; what Node loads is its ES module, whose default is the solver.
const { Model } = solver as unknown as (typeof solver)['default'];

interface JsColumn {
  readonly cost: number;
  readonly rows: Int32Array;
  readonly values: Float64Array;
  upper: number;
}

/** Thrown out of the library's pivot loop, which was seen to cycle for ever on degenerate masters. */
class TooManyPivots extends Error {}

function build(rows: readonly LpRow[]) {
  const model = new Model(1e-9).minimize();
  const constraints = rows.map((row) =>
    row.lower > -Infinity ? model.greaterThan(row.lower) : model.smallerThan(row.upper),
  );
  return { model, constraints, variables: new Map<number, ReturnType<typeof model.addVariable>>() };
}

/** javascript-lp-solver: grown column by column and re-solved from its own tableau; rebuilt when a limit changes. */
class JsLp implements Lp {
  private readonly columns: JsColumn[] = [];
  private readonly rows: LpRow[];
  private built: ReturnType<typeof build> | null = null;

  constructor(rows: readonly LpRow[]) {
    this.rows = [...rows];
  }

  addColumn(cost: number, rows: Int32Array, values: Float64Array): void {
    this.columns.push({ cost, rows, values, upper: Infinity });
  }

  setRow(row: number, lower: number, upper: number): void {
    this.rows[row] = { lower, upper };
    this.built = null;
  }

  setUpper(column: number, upper: number): void {
    const known = this.columns[column];
    if (known === undefined || known.upper === upper) return;
    known.upper = upper;
    this.built = null;
  }

  solve(seconds: number): LpResult {
    this.built ??= build(this.rows);
    const { model, constraints, variables } = this.built;
    for (let j = 0; j < this.columns.length; j++) {
      const column = this.columns[j]!;
      if (variables.has(j) || column.upper === 0) continue;
      const variable = model.addVariable(column.cost, `x${j}`);
      for (let e = 0; e < column.rows.length; e++) {
        constraints[column.rows[e]!]!.addTerm(column.values[e]!, variable);
      }
      variables.set(j, variable);
    }
    const tableau = model.tableau;
    const pivot = tableau.pivot.bind(tableau);
    const most = 2000 + 40 * (this.rows.length + this.columns.length);
    const end = performance.now() + 1000 * seconds;
    let pivots = 0;
    tableau.pivot = (row: number, column: number) => {
      pivots++;
      if (pivots > most || ((pivots & 63) === 0 && performance.now() > end)) throw new TooManyPivots();
      pivot(row, column);
    };
    try {
      const solution = model.solve();
      if (!solution.feasible)
        return { status: 'failed', reason: 'javascript-lp-solver found no feasible point' };
    } catch (error) {
      this.built = null;
      if (error instanceof TooManyPivots) return { status: 'failed', reason: 'javascript-lp-solver cycles' };
      throw error;
    } finally {
      tableau.pivot = pivot;
    }
    return this.read();
  }

  /** Values from the basis rows, duals from the cost row under the slack columns. */
  private read(): LpResult {
    const { model, constraints, variables } = this.built!;
    const t = model.tableau;
    const x = new Float64Array(this.columns.length);
    let objective = 0;
    for (const [j, variable] of variables) {
      const row = t.rowByVarIndex[variable.index] ?? -1;
      if (row >= 0) x[j] = t.matrix[row * t.width + t.rhsColumn]!;
      objective += x[j]! * this.columns[j]!.cost;
    }
    const duals = new Float64Array(this.rows.length);
    for (let i = 0; i < constraints.length; i++) {
      const column = t.colByVarIndex[constraints[i]!.slack.index] ?? -1;
      const size = column >= 0 ? Math.abs(t.matrix[t.costRowIndex * t.width + column]!) : 0;
      duals[i] = this.rows[i]!.lower > -Infinity ? size : -size;
    }
    return { status: 'optimal', objective, x, duals };
  }

  dispose(): void {
    this.built = null;
    this.columns.length = 0;
  }
}

/** `mostRows`: up to about 100 rows it agreed with HiGHS; from 130 degenerate rows on it was seen to cycle. */
export const jsLp: LpFactory = {
  name: 'javascript-lp-solver',
  mostRows: 100,
  create: (rows) => new JsLp(rows),
};
