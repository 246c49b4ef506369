import type { Highs } from 'highs';
import { allowance, type Duals } from './bound.js';
import { type Column, type Cutting, columnOf, type Fill, lengthOf } from './columns.js';
import type { Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Knapsack } from './knapsack.js';

/** A column of the finishing programme: a whole piece (segment −1), or what one segment of a flawed piece yields. */
export interface Choice {
  readonly column: Column;
  readonly segment: number;
}

const NOTHING: Fill = { items: new Int32Array(0), counts: new Int32Array(0) };
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

export interface MipAnswer {
  readonly status: 'optimal' | 'infeasible' | 'limit';
  readonly plan: Cutting[] | null;
}

/** Rows and columns of a programme in the making. */
class Sheet {
  readonly lower: number[] = [];
  readonly upper: number[] = [];
  readonly cost: number[] = [];
  readonly starts: number[] = [0];
  readonly indices: number[] = [];
  readonly values: number[] = [];

  row(lower: number, upper: number): number {
    this.lower.push(lower);
    return this.upper.push(upper) - 1;
  }

  column(cost: number, entries: readonly (readonly [number, number])[]): number {
    for (const [row, value] of entries) {
      this.indices.push(row);
      this.values.push(value);
    }
    this.starts.push(this.indices.length);
    return this.cost.push(cost) - 1;
  }
}

/** Puts the segments' patterns together into pieces, the longest list of a lane saying how many. */
function join(instance: Instance, chosen: readonly (readonly [Choice, number])[]): Cutting[] {
  const plan: Cutting[] = [];
  const bySegment = new Map<number, Fill[][]>();
  for (const [{ column, segment }, times] of chosen) {
    if (segment < 0) {
      plan.push({ column, times });
      continue;
    }
    const lists = bySegment.get(column.lane) ?? Array.from(column.parts, () => []);
    bySegment.set(column.lane, lists);
    for (let t = 0; t < times; t++) lists[segment]!.push(column.parts[segment]!);
  }
  for (const [lane, lists] of bySegment) {
    const pieces = Math.max(...lists.map((list) => list.length));
    for (let t = 0; t < pieces; t++) {
      plan.push({
        column: columnOf(
          instance.n,
          lane,
          lists.map((list) => list[t] ?? NOTHING),
        ),
        times: 1,
      });
    }
  }
  return plan;
}

/**
 * The best plan from these choices that costs at most `mark`, by the HiGHS mixed-integer solver (branch and cut), in
 * at most `nodes` nodes: counted rather than timed, so that the same seed gives the same plan.
 * Coefficients are whole numbers of moderate size, so its verdicts are taken as they are.
 */
export function finish(
  highs: Highs,
  instance: Instance,
  goal: Goal,
  choices: readonly Choice[],
  mark: number,
  seconds: number,
  nodes: number,
): MipAnswer {
  if (choices.length === 0) return { status: 'infeasible', plan: null };
  const infinity = highs.infinity;
  const sheet = new Sheet();
  for (const d of instance.demand) sheet.row(d, infinity);
  const supplyRow = instance.lanes.map((lane) =>
    lane.supply === Infinity ? -1 : sheet.row(-infinity, lane.supply),
  );
  const countRow = goal.rows.map((row) => sheet.row(-infinity, row.limit));
  const costRow = sheet.row(-infinity, mark === Infinity ? infinity : mark);
  const pieceEntries = (lane: number): [number, number][] => {
    const entries: [number, number][] = [];
    if (supplyRow[lane]! >= 0) entries.push([supplyRow[lane]!, 1]);
    goal.rows.forEach((row, r) => {
      if (row.weights[lane] !== 0) entries.push([countRow[r]!, row.weights[lane]!]);
    });
    if (goal.cost[lane] !== 0) entries.push([costRow, goal.cost[lane]!]);
    return entries;
  };
  // A flawed piece: one column for the piece, and each segment holds no more patterns than there are pieces.
  const links = instance.lanes.map((lane, s) => {
    if (lane.segments.length === 1 || choices.every((c) => c.segment < 0 || c.column.lane !== s)) return null;
    const rows = Array.from(lane.segments, () => sheet.row(-infinity, 0));
    return { rows, entries: pieceEntries(s) };
  });
  for (const { column, segment } of choices) {
    const entries: [number, number][] = [];
    column.items.forEach((i, e) => {
      entries.push([i, column.counts[e]!]);
    });
    const link = segment < 0 ? null : links[column.lane];
    if (link) sheet.column(0, [...entries, [link.rows[segment]!, 1]]);
    else sheet.column(goal.cost[column.lane]!, [...entries, ...pieceEntries(column.lane)]);
  }
  links.forEach((link, s) => {
    if (link)
      sheet.column(goal.cost[s]!, [...link.entries, ...link.rows.map((row): [number, number] => [row, -1])]);
  });
  const count = sheet.cost.length;
  return highs.withModel(
    {
      numCols: count,
      numRows: sheet.lower.length,
      colCost: Float64Array.from(sheet.cost),
      colLower: new Float64Array(count),
      colUpper: new Float64Array(count).fill(infinity),
      rowLower: Float64Array.from(sheet.lower),
      rowUpper: Float64Array.from(sheet.upper),
      integrality: new Int32Array(count).fill(highs.constants.variableType.integer),
      matrix: {
        format: 'csc',
        numRows: sheet.lower.length,
        numCols: count,
        starts: Int32Array.from(sheet.starts),
        indices: Int32Array.from(sheet.indices),
        values: Float64Array.from(sheet.values),
      },
    },
    (model): MipAnswer => {
      model.options.set({
        output_flag: false,
        time_limit: seconds,
        mip_max_nodes: nodes,
        mip_rel_gap: 0,
        mip_abs_gap: 1e-6,
      });
      model.run();
      const status = model.getModelStatus();
      const known = highs.constants.modelStatus;
      if (status === known.infeasible || status === known.unboundedOrInfeasible)
        return { status: 'infeasible', plan: null };
      if (status !== known.optimal && status !== known.timeLimit && status !== known.solutionLimit) {
        return { status: 'limit', plan: null };
      }
      const x = model.getSolution().colValue;
      const chosen = choices.flatMap((choice, j): [Choice, number][] => {
        const times = Math.round(x[j] ?? 0);
        return times > 0 ? [[choice, times]] : [];
      });
      const plan = chosen.length > 0 ? join(instance, chosen) : null;
      return { status: status === known.optimal ? 'optimal' : 'limit', plan };
    },
  );
}
