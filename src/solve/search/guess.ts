import type { Highs } from 'highs';
import { programmeWork, type Watch } from '../instance/watch.js';
import type { Programme } from './programme.js';

/** Rows and columns for which the library works so long on each pivot of its simplex, cuts and heuristics included. */
const SIZE_A_UNIT = 10;
/** Of the time left it may take so much: the library looks at its clock late on a busy machine. */
const TIME_SHARE = 0.4;

/**
 * How often each column is taken in a solution of cost ≤ `mark`, by the HiGHS mixed-integer solver (branch and cut), in
 * at most `nodes` nodes: counted rather than timed, so that the same seed gives the same plan. Its pivots are the work that
 * is counted, and it ends when `watch` says so. Null when none was found. That proves nothing, since the solver works in
 * floating point.
 */
export function guess(
  highs: Highs,
  programme: Programme,
  mark: number,
  nodes: number,
  watch: Watch,
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
  let pivots = 0;
  const count = (now: number): void => {
    watch.spend(((now - pivots) * (costRow + 1 + numCols)) / SIZE_A_UNIT);
    pivots = now;
  };
  watch.spend(programmeWork(costRow + 1));
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
        time_limit: TIME_SHARE * watch.seconds(),
        mip_max_nodes: nodes,
        mip_rel_gap: 0,
        mip_abs_gap: 1e-6,
      });
      model.run({
        [highs.constants.callbackType.mipInterrupt]: (event) => {
          count(Number(event.data.mip_total_lp_iterations ?? pivots));
          if (watch.over()) event.interrupt();
        },
      });
      count(Math.max(pivots, Number(model.info.get('simplex_iteration_count'))));
      const { optimal, timeLimit, solutionLimit, interrupted } = highs.constants.modelStatus;
      const ends: readonly number[] = [optimal, timeLimit, solutionLimit, interrupted];
      if (!ends.includes(model.getModelStatus())) return null;
      const times = model.getSolution().colValue;
      return times.some((count) => Math.round(count) > 0) ? times : null;
    },
  );
}
