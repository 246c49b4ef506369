import type { Instance } from '../instance/instance.js';
import type { EndingWork } from '../instance/watch.js';
import { type Column, columnOf, type Fill } from './columns.js';
import { foldedTable } from './fold.js';

/** Bytes. */
const DOUBLE = 8;
/** Cells passed through at most, of one row at most (three rows: 48 MB), and in a unit of work. */
const MOST_CELLS = 1_200_000_000;
const MOST_ROOM = 2_000_000;
const CELLS_A_UNIT = 1_500;
/** Nodes of a search for the few rails of a pattern that are asked for less often than a piece holds them. */
const MOST_NODES = 2_000;

/**
 * Pricing to the single unit of length, where the table stands on a coarser grid: one row of the table for all items, in
 * place. A pattern's last rail is one of those that are asked for as often as a piece holds them, and the best before it
 * stands in the same row; the few others are entered first, and found again by search. It serves where
 * rails are long or asked for often; for one group of whole pieces without charges.
 */
export class ExactPricing {
  /** Units of work that one takes. */
  readonly units: number;
  /** The place of the row of all items, after `price`. */
  private row = 0;
  private rows: ReturnType<typeof foldedTable> | undefined;
  private values: Float64Array = new Float64Array(0);
  /** Items that a piece holds more of than are asked for, and the others. */
  private readonly scarce: number[] = [];
  private readonly plenty: number[] = [];
  private nodes = 0;

  constructor(
    private readonly instance: Instance,
    private readonly work: EndingWork,
  ) {
    const { n, weight, demand, largest, groups, unit, kinds } = instance;
    let cells = 0;
    for (let i = 0; i < n; i++) {
      const few = demand[i]! < Math.floor(largest / weight[i]!);
      (few ? this.scarce : this.plenty).push(i);
      cells += (few ? demand[i]! + 1 : 1) * (largest - weight[i]!);
    }
    const whole = groups.length === 1 && groups[0]!.segments.length === 1;
    const serves = unit > 1 && !kinds && whole && weight[n - 1]! > 1;
    this.units =
      serves && largest <= MOST_ROOM && cells <= MOST_CELLS ? Math.ceil(cells / CELLS_A_UNIT) : Infinity;
  }

  /** No pattern is worth more at these whole values, at most `demand` of an item; Infinity where it cannot be told. */
  price(values: Float64Array): number {
    if (this.units === Infinity) return Infinity;
    const { weight, demand, largest } = this.instance;
    const width = largest + 1;
    if (this.rows === undefined) this.rows = foldedTable(3 * width);
    if (!this.rows) return Infinity;
    const { table, fold } = this.rows;
    this.work.spend(this.units);
    this.values = values;
    let [row, other] = [width, 2 * width];
    table.fill(0, row, row + width);
    for (const i of this.scarce) {
      const w = weight[i]!;
      if (values[i]! <= 0) continue;
      table.copyWithin(other, row, row + width);
      for (let k = 1; k <= demand[i]! && k * w < width; k++) {
        const at = DOUBLE * (other + k * w);
        fold(at, at, DOUBLE * row, DOUBLE * (other + width), k * values[i]!);
      }
      [row, other] = [other, row];
    }
    // The row of the scarce alone is kept at the front.
    table.copyWithin(0, row, row + width);
    this.row = row;
    const end = DOUBLE * (row + width);
    for (const i of this.plenty) {
      if (values[i]! <= 0) continue;
      const at = DOUBLE * (row + weight[i]!);
      fold(at, at, DOUBLE * row, end, values[i]!);
    }
    return table[row + largest]!;
  }

  /** The best patterns that hold an item, for each item of which one is worth more than `least`: the most worthy first. */
  *patterns(least: number): Generator<Column> {
    const { n, weight, largest } = this.instance;
    const { plenty, values, rows, row } = this;
    if (!rows) return;
    const found = plenty
      .map((i) => ({ i, worth: values[i]! + rows.table[row + largest - weight[i]!]! }))
      .filter(({ i, worth }) => values[i]! > 0 && worth > least)
      .sort((a, b) => b.worth - a.worth || a.i - b.i);
    for (const { i } of found) {
      const fill = this.filled(i);
      if (fill) yield columnOf(n, 0, [fill]);
    }
  }

  /** The best pattern that holds item `first`; null where it was not found again. */
  private filled(first: number): Fill | null {
    const { weight, largest } = this.instance;
    const { plenty, values, row } = this;
    const { table } = this.rows!;
    const held = new Map<number, number>([[first, 1]]);
    let room = largest - weight[first]!;
    for (;;) {
      const worth = table[row + room]!;
      if (worth === table[room]!) break;
      const i = plenty.find(
        (p) => weight[p]! <= room && values[p]! > 0 && values[p]! + table[row + room - weight[p]!]! === worth,
      );
      if (i === undefined) return null;
      held.set(i, (held.get(i) ?? 0) + 1);
      room -= weight[i]!;
    }
    this.nodes = 0;
    if (!this.completed(0, room, table[room]!, held)) return null;
    const items = Int32Array.from(held.keys()).sort();
    return { items, counts: items.map((i) => held.get(i)!) };
  }

  /** Adds scarce items from place `from` on that are worth so much in this room; false where none were found. */
  private completed(from: number, room: number, worth: number, held: Map<number, number>): boolean {
    if (worth === 0) return true;
    const { weight, demand } = this.instance;
    const { scarce, values } = this;
    const { table } = this.rows!;
    if (worth > table[room]! || this.nodes++ > MOST_NODES) return false;
    for (let at = from; at < scarce.length; at++) {
      const i = scarce[at]!;
      for (let k = demand[i]!; k > 0; k--) {
        const [left, rest] = [room - k * weight[i]!, worth - k * values[i]!];
        if (left < 0 || rest < 0 || values[i]! <= 0) continue;
        held.set(i, k);
        if (this.completed(at + 1, left, rest, held)) return true;
        held.delete(i);
      }
    }
    return false;
  }
}
