import type { Highs } from 'highs';
import type { Programme } from './programme.js';

/**
 * How often each column is taken in a solution of cost ≤ `mark`, by the HiGHS mixed-integer solver (branch and cut), in
 * at most `nodes` nodes: counted rather than timed, so that the same seed gives the same plan. Null when none was
 * found. That proves nothing, since the solver works in floating point.
 */
export function guess(
  highs: Highs,
  programme: Programme,
  mark: number,
  seconds: number,
  nodes: number,
): Float64Array | null {
  const { cost, lower, upper, starts, indices, values } = programme;
  if (cost.length === 0) return null;
  const infinity = highs.infinity;
  const finite = (value: number): number => Math.max(-infinity, Math.min(infinity, value));
  const numCols = cost.length;
  const costRow = lower.length;
  const entries: [number[], number[]] = [[], []];
  const begins = [0];
  for (let j = 0; j < numCols; j++) {
    for (let e = starts[j]!; e < starts[j + 1]!; e++) {
      entries[0].push(indices[e]!);
      entries[1].push(values[e]!);
    }
    if (cost[j] !== 0) {
      entries[0].push(costRow);
      entries[1].push(cost[j]!);
    }
    begins.push(entries[0].length);
  }
  return highs.withModel(
    {
      numCols,
      numRows: costRow + 1,
      colCost: cost,
      colLower: new Float64Array(numCols),
      colUpper: new Float64Array(numCols).fill(infinity),
      rowLower: Float64Array.of(...lower.map(finite), -infinity),
      rowUpper: Float64Array.of(...upper.map(finite), finite(mark)),
      integrality: new Int32Array(numCols).fill(highs.constants.variableType.integer),
      matrix: {
        format: 'csc',
        numRows: costRow + 1,
        numCols,
        starts: Int32Array.from(begins),
        indices: Int32Array.from(entries[0]),
        values: Float64Array.from(entries[1]),
      },
    },
    (model): Float64Array | null => {
      model.options.set({
        output_flag: false,
        time_limit: seconds,
        mip_max_nodes: nodes,
        mip_rel_gap: 0,
        mip_abs_gap: 1e-6,
      });
      model.run();
      const { optimal, timeLimit, solutionLimit } = highs.constants.modelStatus;
      const status = model.getModelStatus();
      if (status !== optimal && status !== timeLimit && status !== solutionLimit) return null;
      const times = model.getSolution().colValue;
      return times.some((count) => Math.round(count) > 0) ? times : null;
    },
  );
}
