/** A column-wise integer programme for the HiGHS package; models are built fresh for every solve and freed after it. */
import loadHighs, { type Highs, type VariableType } from 'highs';

export interface MipAnswer {
  readonly status: 'optimal' | 'infeasible' | 'limit';
  /** Objective of the best solution found; Infinity when there is none. */
  readonly value: number;
  /** Lower bound HiGHS claims, in floating point. */
  readonly bound: number;
  readonly x: Float64Array;
  readonly seconds: number;
}

export interface MipOptions {
  readonly seconds: number;
  /** Ignore integrality: the LP relaxation. */
  readonly relaxed?: boolean;
}

type Loader = (typeof loadHighs)['default'];

let loading: Promise<Highs> | undefined;

/** One HiGHS runtime a process; it is single-threaded. */
export function peerHighs(): Promise<Highs> {
  // The package's types describe a CommonJS module; what Node loads here is its ES module, whose default is the loader.
  loading ??= (loadHighs as unknown as Loader)();
  return loading;
}

export class Mip {
  readonly #starts: number[] = [0];
  readonly #indices: number[] = [];
  readonly #values: number[] = [];
  readonly #cost: number[] = [];
  readonly #upper: number[] = [];
  readonly #rowLower: number[] = [];
  readonly #rowUpper: number[] = [];

  get columns(): number {
    return this.#cost.length;
  }

  get rows(): number {
    return this.#rowLower.length;
  }

  row(lower: number, upper: number): number {
    this.#rowUpper.push(upper);
    return this.#rowLower.push(lower) - 1;
  }

  /** A whole variable in [0, upper] with its entries, one `[row, value]` each row at most. */
  column(cost: number, upper: number, entries: readonly (readonly [number, number])[]): number {
    for (const [row, value] of entries) {
      this.#indices.push(row);
      this.#values.push(value);
    }
    this.#starts.push(this.#indices.length);
    this.#upper.push(upper);
    return this.#cost.push(cost) - 1;
  }

  /** Minimises `costs` (or the columns' own) with `Σ costs[j]·x[j] ≤ limit` added for each earlier goal. */
  solve(
    highs: Highs,
    options: MipOptions,
    costs?: readonly number[],
    held: readonly HeldGoal[] = [],
  ): MipAnswer {
    const model = highs.createModel({
      numCols: this.columns,
      numRows: this.rows,
      colCost: costs ?? this.#cost,
      colLower: new Float64Array(this.columns),
      colUpper: this.#upper,
      rowLower: this.#rowLower,
      rowUpper: this.#rowUpper,
      matrix: {
        format: 'csc',
        numRows: this.rows,
        numCols: this.columns,
        starts: this.#starts,
        indices: this.#indices,
        values: this.#values,
      },
      integrality: new Int32Array(this.columns).fill(options.relaxed === true ? CONTINUOUS : WHOLE),
    });
    try {
      for (const goal of held) {
        const indices = [...goal.costs.keys()].filter((j) => goal.costs[j] !== 0);
        const values = indices.map((j) => goal.costs[j] ?? 0);
        model.addRow(-highs.infinity, goal.limit, { indices, values });
      }
      model.options.set({
        output_flag: false,
        time_limit: options.seconds,
        mip_rel_gap: 0,
        mip_abs_gap: 1e-6,
      });
      const began = performance.now();
      const { modelStatus } = model.run();
      const seconds = (performance.now() - began) / 1000;
      const known = highs.constants.modelStatus;
      if (modelStatus === known.infeasible || modelStatus === known.unboundedOrInfeasible)
        return { status: 'infeasible', value: Infinity, bound: Infinity, x: new Float64Array(0), seconds };
      const optimal = modelStatus === known.optimal;
      if (!optimal && modelStatus !== known.timeLimit)
        throw new Error(`HiGHS ended with model status ${modelStatus}`);
      const value = model.getObjectiveValue();
      const bound = options.relaxed === true ? value : Number(model.info.get('mip_dual_bound'));
      const x = new Float64Array(model.getSolution().colValue);
      return { status: optimal ? 'optimal' : 'limit', value, bound, x, seconds };
    } finally {
      model.dispose();
    }
  }
}

export interface HeldGoal {
  readonly costs: readonly number[];
  readonly limit: number;
}

const CONTINUOUS: VariableType = 0;
const WHOLE: VariableType = 1;
