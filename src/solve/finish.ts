import type { Highs } from 'highs';
import { allowance, type Duals } from './bound.js';
import { columnOf, type Fill, lengthOf } from './columns.js';
import type { Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Knapsack } from './knapsack.js';
import { type Choice, NOTHING, type Programme } from './programme.js';

/** Nodes the enumeration of one segment may take. */
const MOST_NODES = 4_000_000;

function fillFrom(items: Int32Array, counts: Int32Array, size: number): Fill {
  let used = 0;
  for (let d = 0; d < size; d++) if (counts[d]! > 0) used++;
  const fill: Fill = { items: new Int32Array(used), counts: new Int32Array(used) };
  for (let d = 0, k = 0; d < size; d++) {
    if (counts[d]! > 0) {
      fill.items[k] = items[d]!;
      fill.counts[k++] = counts[d]!;
    }
  }
  return fill;
}

/**
 * All patterns that a plan of value ≤ `mark` may use: those whose reduced cost is at most mark − bound (reduced-cost
 * fixing: a plan's value is at least the dual bound plus its columns' reduced costs). A flawed piece costs once for
 * all its segments, so a segment's pattern is kept when the piece could still pay with the best in the others.
 * `slack` = mark·scale − value of the duals, Infinity for all patterns; patterns that waste more than `waste` are
 * left out. Null when there are more than `most` or the search ran out of nodes.
 */
export function enumerate(
  instance: Instance,
  goal: Goal,
  knapsack: Knapsack,
  duals: Duals,
  slack: number,
  waste: number,
  most: number,
): Choice[] | null {
  const choices: Choice[] = [];
  // Items worth nothing come along in any pattern: valued one unit, they are enumerated too.
  const values = duals.item.map((v) => Math.max(1, v));
  knapsack.load(values, instance.demand);
  const extra = Math.ceil(
    instance.largest /
      Math.max(
        1,
        instance.weight.reduce((a, b) => Math.min(a, b)),
      ),
  );
  for (let s = 0; s < instance.lanes.length; s++) {
    const segments = instance.lanes[s]!.segments;
    let best = 0;
    for (const capacity of segments) best += knapsack.upper(capacity);
    const least = allowance(goal, duals, s) - slack - 1 - extra * instance.lanes[s]!.segments.length;
    for (let k = 0; k < segments.length; k++) {
      const capacity = segments[k]!;
      const threshold = Math.max(-1, least - (best - knapsack.upper(capacity)));
      knapsack.search(capacity, threshold, MOST_NODES, -1, (items, counts, size, value) => {
        const fill = fillFrom(items, counts, size);
        if (value <= 0 || capacity - lengthOf(instance, fill) > waste) return true;
        const parts = Array.from(segments, (_, at) => (at === k ? fill : NOTHING));
        choices.push({ column: columnOf(instance.n, s, parts), segment: segments.length === 1 ? -1 : k });
        return choices.length <= most;
      });
      if (!knapsack.complete) return null;
    }
  }
  return choices;
}

/**
 * How often each column is taken in a solution of cost ≤ `mark`, by the HiGHS mixed-integer solver (branch and cut), in
 * at most `nodes` nodes: counted rather than timed, so that the same seed gives the same plan. Null when none was
 * found, which proves nothing: its verdicts rest on floating point.
 */
export function finish(
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
