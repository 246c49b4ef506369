import { type Column, type Cutting, columnOf, type Fill } from '../columns/columns.js';
import { columnCost, columnWeight, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';

/** A column of the programme: a whole piece (segment −1), or what one segment of a flawed piece yields. */
export interface ProgrammeColumn {
  readonly column: Column;
  readonly segment: number;
}

/**
 * How often to take each of the choices at least cost, as an integer programme: minimise cost·x, lower ≤ A·x ≤ upper,
 * 0 ≤ x ≤ most, x whole; all coefficients whole. Choices come first, then one column a flawed group for its pieces.
 */
export interface Programme {
  readonly cost: Float64Array;
  /** Enough for any plan that has no piece too many; Infinity where nothing says. */
  readonly most: Float64Array;
  /** StockGroup of a column that stands for a piece, else −1. */
  readonly group: Int32Array;
  /** Demand rows first, one an item. */
  readonly items: number;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  /** By columns: entries of column j at starts[j] … starts[j + 1] − 1. */
  readonly starts: Int32Array;
  readonly indices: Int32Array;
  readonly values: Float64Array;
}

export const NOTHING: Fill = { items: new Int32Array(0), counts: new Int32Array(0) };

/** Rows and columns in the making. */
class Sheet {
  readonly lower: number[] = [];
  readonly upper: number[] = [];
  readonly cost: number[] = [];
  readonly most: number[] = [];
  readonly group: number[] = [];
  readonly starts: number[] = [0];
  readonly indices: number[] = [];
  readonly values: number[] = [];

  row(lower: number, upper: number): number {
    this.lower.push(lower);
    return this.upper.push(upper) - 1;
  }

  /** Of the column that is ended next. */
  entry(row: number, value: number): void {
    this.indices.push(row);
    this.values.push(value);
  }

  column(cost: number, most: number, group: number): void {
    this.starts.push(this.indices.length);
    this.cost.push(cost);
    this.most.push(most);
    this.group.push(group);
  }

  done(items: number): Programme {
    return {
      cost: Float64Array.from(this.cost),
      most: Float64Array.from(this.most),
      group: Int32Array.from(this.group),
      items,
      lower: Float64Array.from(this.lower),
      upper: Float64Array.from(this.upper),
      starts: Int32Array.from(this.starts),
      indices: Int32Array.from(this.indices),
      values: Float64Array.from(this.values),
    };
  }
}

export function programmeOf(
  instance: Instance,
  goal: SearchGoal,
  choices: readonly ProgrammeColumn[],
): Programme {
  const sheet = new Sheet();
  for (const d of instance.demand) sheet.row(d, Infinity);
  const supplyRow = instance.groups.map((group) =>
    group.supply === Infinity ? -1 : sheet.row(-Infinity, group.supply),
  );
  const countRow = goal.rows.map((row) => sheet.row(-Infinity, row.limit));
  const piece = (column: Column, most: number): void => {
    const { group } = column;
    if (supplyRow[group]! >= 0) sheet.entry(supplyRow[group]!, 1);
    goal.rows.forEach((row, r) => {
      const weight = columnWeight(row, column);
      if (weight !== 0) sheet.entry(countRow[r]!, weight);
    });
    sheet.column(columnCost(goal, column), most, group);
  };
  // A flawed piece: one column for the piece, and each segment holds no more patterns than there are pieces.
  const links = instance.groups.map((group, s) => {
    if (group.segments.length === 1 || choices.every((c) => c.segment < 0 || c.column.group !== s))
      return null;
    return { rows: Array.from(group.segments, () => sheet.row(-Infinity, 0)), most: 0 };
  });
  for (const { column, segment } of choices) {
    let most = 0;
    column.items.forEach((i, e) => {
      sheet.entry(i, column.counts[e]!);
      // One more than its neediest rail asks for could be left out of any plan.
      most = Math.max(most, Math.ceil(instance.demand[i]! / column.counts[e]!));
    });
    const link = segment < 0 ? null : links[column.group];
    if (!link) piece(column, most);
    else {
      sheet.entry(link.rows[segment]!, 1);
      sheet.column(0, most, -1);
      link.most += most;
    }
  }
  links.forEach((link, s) => {
    if (!link) return;
    for (const row of link.rows) sheet.entry(row, -1);
    piece(columnOf(instance.n, s, [NOTHING]), link.most);
  });
  return sheet.done(instance.n);
}

/** The plan that takes choice j `times[j]` times: segments' patterns are put together into pieces. */
export function cuttingsOf(
  instance: Instance,
  choices: readonly ProgrammeColumn[],
  times: ArrayLike<number>,
): Cutting[] {
  const plan: Cutting[] = [];
  const bySegment = new Map<number, Fill[][]>();
  choices.forEach(({ column, segment }, j) => {
    const count = Math.round(times[j] ?? 0);
    if (count <= 0) return;
    if (segment < 0) {
      plan.push({ column, times: count });
      return;
    }
    const lists = bySegment.get(column.group) ?? Array.from(column.parts, () => []);
    bySegment.set(column.group, lists);
    for (let t = 0; t < count; t++) lists[segment]!.push(column.parts[segment]!);
  });
  for (const [group, lists] of bySegment) {
    // The longest list of a group says how many pieces there are.
    const pieces = Math.max(...lists.map((list) => list.length));
    for (let t = 0; t < pieces; t++) {
      const parts = lists.map((list) => list[t] ?? NOTHING);
      plan.push({ column: columnOf(instance.n, group, parts), times: 1 });
    }
  }
  return plan;
}
