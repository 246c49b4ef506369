import type { Highs } from 'highs';
import { allowance, type Duals } from './bound.js';
import { type Column, type Cutting, columnOf, type Fill, lengthOf } from './columns.js';
import type { Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Knapsack } from './knapsack.js';

/**
 * All patterns that a plan of value ≤ `mark` may use: those whose reduced cost is at most mark − bound (reduced-cost
 * fixing: a plan's value is at least the dual bound plus its columns' reduced costs). Null when there are more than
 * `most` or the search ran out of nodes. `slack` = mark·scale − value of the duals, Infinity for all patterns. Segmented lanes
 * are not enumerated; with any of them the answer is null. Patterns that waste more than `waste` are left out.
 */
export function enumerate(
  instance: Instance,
  goal: Goal,
  knapsack: Knapsack,
  duals: Duals,
  slack: number,
  waste: number,
  most: number,
): Column[] | null {
  const columns: Column[] = [];
  knapsack.load(duals.item, instance.demand);
  for (let s = 0; s < instance.lanes.length; s++) {
    const segments = instance.lanes[s]!.segments;
    if (segments.length !== 1) return null;
    const threshold = allowance(goal, duals, s) - slack - 1;
    knapsack.search(segments[0]!, threshold, 4_000_000, -1, (items, counts, size) => {
      let used = 0;
      for (let d = 0; d < size; d++) if (counts[d]! > 0) used++;
      const fill: Fill = { items: new Int32Array(used), counts: new Int32Array(used) };
      for (let d = 0, k = 0; d < size; d++) {
        if (counts[d]! > 0) {
          fill.items[k] = items[d]!;
          fill.counts[k++] = counts[d]!;
        }
      }
      if (segments[0]! - lengthOf(instance, fill) > waste) return true;
      columns.push(columnOf(instance.n, s, [fill]));
      return columns.length <= most;
    });
    if (!knapsack.complete) return null;
  }
  return columns;
}

export interface MipAnswer {
  readonly status: 'optimal' | 'infeasible' | 'limit';
  readonly plan: Cutting[] | null;
}

/**
 * The best plan from these columns that costs at most `mark`, by the HiGHS mixed-integer solver (branch and cut).
 * Coefficients are small whole numbers, so its verdicts are taken as they are.
 */
export function finish(
  highs: Highs,
  instance: Instance,
  goal: Goal,
  columns: readonly Column[],
  mark: number,
  seconds: number,
): MipAnswer {
  const { n, lanes, demand } = instance;
  const rowLower: number[] = Array.from(demand);
  const rowUpper: number[] = Array.from(demand, () => highs.infinity);
  const supplyRow = lanes.map((lane) => {
    if (lane.supply === Infinity) return -1;
    rowLower.push(-highs.infinity);
    return rowUpper.push(lane.supply) - 1;
  });
  const first = rowLower.length;
  for (const row of goal.rows) {
    rowLower.push(-highs.infinity);
    rowUpper.push(row.limit);
  }
  rowLower.push(-highs.infinity);
  rowUpper.push(mark);
  const costRow = rowLower.length - 1;
  const starts = [0];
  const indices: number[] = [];
  const values: number[] = [];
  for (const column of columns) {
    const put = (row: number, value: number): void => {
      indices.push(row);
      values.push(value);
    };
    column.items.forEach((i, e) => {
      put(i, column.counts[e]!);
    });
    if (supplyRow[column.lane]! >= 0) put(supplyRow[column.lane]!, 1);
    goal.rows.forEach((row, r) => {
      if (row.weights[column.lane] !== 0) put(first + r, row.weights[column.lane]!);
    });
    if (goal.cost[column.lane] !== 0) put(costRow, goal.cost[column.lane]!);
    starts.push(indices.length);
  }
  const count = columns.length;
  if (count === 0) return { status: n === 0 ? 'optimal' : 'infeasible', plan: n === 0 ? [] : null };
  return highs.withModel(
    {
      numCols: count,
      numRows: rowLower.length,
      colCost: Float64Array.from(columns, (c) => goal.cost[c.lane]!),
      colLower: new Float64Array(count),
      colUpper: new Float64Array(count).fill(highs.infinity),
      rowLower: Float64Array.from(rowLower),
      rowUpper: Float64Array.from(rowUpper),
      integrality: new Int32Array(count).fill(highs.constants.variableType.integer),
      matrix: {
        format: 'csc',
        numRows: rowLower.length,
        numCols: count,
        starts: Int32Array.from(starts),
        indices: Int32Array.from(indices),
        values: Float64Array.from(values),
      },
    },
    (model): MipAnswer => {
      model.options.set({ output_flag: false, time_limit: seconds, mip_rel_gap: 0, mip_abs_gap: 1e-6 });
      model.run();
      const status = model.getModelStatus();
      const known = highs.constants.modelStatus;
      if (status === known.infeasible) return { status: 'infeasible', plan: null };
      if (status !== known.optimal && status !== known.timeLimit) return { status: 'limit', plan: null };
      const x = model.getSolution().colValue;
      const plan: Cutting[] = [];
      columns.forEach((column, j) => {
        const times = Math.round(x[j] ?? 0);
        if (times > 0) plan.push({ column, times });
      });
      return { status: status === known.optimal ? 'optimal' : 'limit', plan: plan.length > 0 ? plan : null };
    },
  );
}
