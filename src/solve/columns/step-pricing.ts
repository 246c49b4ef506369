import { commonStep, type Instance } from '../instance/instance.js';
import type { EndingWork } from '../instance/watch.js';
import { type Column, columnOf, type Fill } from './columns.js';
import { foldedTable } from './fold.js';

/** Bytes. */
const DOUBLE = 8;
/** Cells of all rows at most, cells passed through at most, and in a unit of work. */
const MOST_CELLS = 400_000;
const MOST_PASSED = 400_000_000;
const CELLS_A_UNIT = 2_000;
/** A table of fewer cells is filled in no time; there is one table a goal, so that smaller ones than usual may have a memory of their own. */
const LEAST_FOLDED = 4_000;
/** Steps that are finer than this, in lengths of the largest piece, make too many cells. */
const FINEST = 2e-5;
/** Looks at items for one pattern, and in a unit of work. */
const MOST_LOOKS = 20_000;
const LOOKS_A_UNIT = 500;
/** Rounding of the fitted step, in steps. */
const DOUBT = 1e-6;
/** Primes. */
const STRIDE = 7_919;
const ROUND_STRIDE = 104_729;
/** Share of what the best pattern is worth beyond its cost that one which holds an item must be worth: others are more diverse. */
const KEPT = 0.5;

/** A pattern that may be worth so much: so many rails on a piece of the group, one of them of this item. */
interface Hope {
  readonly group: number;
  readonly item: number;
  readonly rails: number;
  readonly worth: number;
  readonly profit: number;
}

/**
 * Pricing where rails are the shortest one and so many stop steps: with the number of rails given, what a piece holds is
 * a whole number of steps, so a row of the table for each number of rails, a cell a step, says exactly what a pattern can
 * be worth. It has no more cells than a grid that rounds, and nothing has to be searched. For whole pieces without charges.
 */
export class StepPricing {
  /** Of the table: where the row of so many rails begins, and how many cells it has; the first is empty pieces. */
  private readonly begins: Int32Array;
  private readonly sizes: Int32Array;
  /** Cells one piece of each group has for so many rails; −1 where it does not hold as many. */
  private readonly rooms: readonly Int32Array[];
  private table: Float64Array | null = null;
  private fold: NonNullable<ReturnType<typeof foldedTable>>['fold'] | null = null;
  private values: Float64Array = new Float64Array(0);
  private looks = 0;
  /** The item that a pattern is filled from first, so that unlike ones are found; and times priced. */
  private offset = 0;
  private round = 0;
  private readonly held: Int32Array;

  private constructor(
    private readonly instance: Instance,
    private readonly work: EndingWork,
    /** Steps by which each item is longer than the shortest. */
    private readonly steps: Int32Array,
    rooms: readonly Int32Array[],
  ) {
    this.rooms = rooms;
    const most = Math.max(...rooms.map((room) => room.length)) - 1;
    this.sizes = new Int32Array(most + 1);
    this.begins = new Int32Array(most + 2);
    for (let m = most; m > 0; m--) this.sizes[m] = 1 + Math.max(...rooms.map((room) => room[m] ?? -1));
    this.sizes[0] = this.sizes[1]!;
    for (let m = 0; m <= most; m++) this.begins[m + 1] = this.begins[m]! + this.sizes[m]!;
    this.held = new Int32Array(instance.n);
  }

  /** Null where rails stand on no step, or the table would be too large. */
  static of(instance: Instance, work: EndingWork): StepPricing | null {
    const { weight, n, largest, groups, kinds, apart } = instance;
    if (kinds || apart || n < 3 || !groups.every(({ segments }) => segments.length === 1)) return null;
    const shortest = weight[n - 1]!;
    const step = commonStep([...weight], Math.max(8, FINEST * largest));
    if (step === 0 || shortest <= 0) return null;
    const steps = Int32Array.from(weight, (w) => Math.round((w - shortest) / step));
    // What a rail may be shorter than its steps say, by rounding.
    const least = weight.reduce((low, w, i) => Math.min(low, w - shortest - steps[i]! * step), 0);
    const rooms = groups.map(({ segments }) => {
      const capacity = segments[0]!;
      const most = Math.floor(capacity / shortest);
      return Int32Array.from({ length: most + 1 }, (_, m) =>
        Math.floor((capacity - m * (shortest + least)) / step + DOUBT),
      );
    });
    const pricing = new StepPricing(instance, work, steps, rooms);
    return pricing.cells <= MOST_CELLS && pricing.passed <= MOST_PASSED ? pricing : null;
  }

  private get cells(): number {
    return this.begins[this.begins.length - 1]!;
  }

  /** Cells that one round passes through at most. */
  private get passed(): number {
    const { weight, demand, n, largest } = this.instance;
    let passes = 0;
    for (let i = 0; i < n; i++) passes += partsOf(demand[i]!, Math.floor(largest / weight[i]!)).length || 1;
    return passes * this.cells;
  }

  /** Fills `worth` with the most that a piece of each group is worth at these whole values. */
  price(values: Float64Array, worth: Float64Array): void {
    const { instance, begins, sizes, steps, rooms } = this;
    const { weight, demand, n, largest } = instance;
    const cells = begins[begins.length - 1]!;
    if (!this.table) {
      const made = foldedTable(cells, LEAST_FOLDED);
      this.table = made?.table ?? new Float64Array(cells);
      this.fold = made?.fold ?? null;
    }
    const { table } = this;
    const most = sizes.length - 1;
    this.values = values;
    this.round++;
    table.fill(0, 0, begins[1]!);
    table.fill(-Infinity, begins[1]!, cells);
    let passed = 0;
    for (let i = 0; i < n; i++) {
      const value = values[i]!;
      if (value <= 0) continue;
      const fit = Math.min(most, Math.floor(largest / weight[i]!));
      const parts = partsOf(demand[i]!, fit);
      // In place from few rails to many where any number will do, else from many to few.
      if (parts.length === 0) for (let m = 1; m <= most; m++) passed += this.pass(m, 1, steps[i]!, value);
      for (const k of parts)
        for (let m = most; m >= k; m--) passed += this.pass(m, k, k * steps[i]!, k * value);
    }
    this.work.spend(passed / CELLS_A_UNIT);
    rooms.forEach((room, s) => {
      let best = 0;
      for (let m = 1; m < room.length; m++)
        if (room[m]! >= 0) best = Math.max(best, table[begins[m]! + room[m]!]!);
      worth[s] = best;
    });
  }

  /** Rows of `m` rails from those of `k` fewer, which are so many steps longer and worth so much. */
  private pass(m: number, k: number, steps: number, value: number): number {
    const { begins, sizes, fold } = this;
    const count = sizes[m]! - steps;
    if (count <= 0) return 0;
    const to = begins[m]! + steps;
    const from = begins[m - k]!;
    if (fold) {
      const at = DOUBLE * to;
      fold(at, at, DOUBLE * from, at + DOUBLE * count, value);
      return count;
    }
    const table = this.table!;
    for (let c = 0; c < count; c++) {
      const v = table[from + c]! + value;
      if (v > table[to + c]!) table[to + c] = v;
    }
    return count;
  }

  /** Patterns that are worth half of what the best that holds an item is beyond `least`, or more. */
  *patterns(least: Float64Array): Generator<Column> {
    const { n } = this.instance;
    for (const hope of this.hopes(least)) {
      const fill = this.filled(hope, least[hope.group]!);
      if (fill) yield columnOf(n, hope.group, [fill]);
    }
  }

  private hopes(least: Float64Array): Hope[] {
    const { values, rooms, steps, begins, instance } = this;
    const table = this.table!;
    const hopes: Hope[] = [];
    rooms.forEach((room, group) => {
      for (let item = 0; item < instance.n; item++) {
        if (values[item]! <= 0) continue;
        let [worth, rails] = [least[group]!, 0];
        for (let m = 1; m < room.length; m++) {
          const left = room[m]! - steps[item]!;
          if (left < 0) break;
          const v = values[item]! + table[begins[m - 1]! + left]!;
          if (v > worth) [worth, rails] = [v, m];
        }
        const profit = (worth - least[group]!) / Math.max(1, least[group]!);
        if (rails > 0) hopes.push({ group, item, rails, worth, profit });
      }
    });
    return hopes.sort((a, b) => b.profit - a.profit || a.group - b.group || a.item - b.item);
  }

  /** A pattern of so many rails that holds the item and is worth nearly as much as the best; null where it asks for more of an item than there are. */
  private filled({ group, item, rails, worth }: Hope, least: number): Fill | null {
    const { held, instance, values, steps, rooms } = this;
    this.looks = 0;
    held.fill(0);
    held[item] = 1;
    const room = rooms[group]![rails]! - steps[item]!;
    const rest = instance.groups[group]!.segments[0]! - instance.weight[item]!;
    this.offset = (item * STRIDE + this.round * ROUND_STRIDE) % instance.n;
    const found = this.complete(0, rails - 1, room, least + KEPT * (worth - least) - values[item]!, rest);
    this.work.spend(this.looks / LOOKS_A_UNIT);
    if (!found) return null;
    const items: number[] = [];
    for (let i = 0; i < held.length; i++) if (held[i]! > 0) items.push(i);
    return { items: Int32Array.from(items), counts: Int32Array.from(items, (i) => held[i]!) };
  }

  /** Adds so many rails, of items from place `from` on, that are worth so much or more; `rest`: what is left of the piece. */
  private complete(from: number, rails: number, room: number, worth: number, rest: number): boolean {
    if (rails === 0) return worth <= 0 && rest >= 0;
    const { held, values, steps, begins, instance } = this;
    const { demand, weight, n } = instance;
    const table = this.table!;
    const row = begins[rails - 1]!;
    for (let at = from; at < n; at++) {
      if (++this.looks > MOST_LOOKS) return false;
      const i = at + this.offset < n ? at + this.offset : at + this.offset - n;
      const left = room - steps[i]!;
      if (left < 0 || values[i]! <= 0 || held[i]! >= demand[i]!) continue;
      const wanted = worth - values[i]!;
      if (table[row + left]! < wanted) continue;
      held[i]!++;
      if (this.complete(at, rails - 1, left, wanted, rest - weight[i]!)) return true;
      held[i]!--;
    }
    return false;
  }
}

/** Numbers of copies to add, all together or some of them, so that up to `demand` can be taken; none: any number fits. */
function partsOf(demand: number, fit: number): number[] {
  const parts: number[] = [];
  if (demand >= fit) return parts;
  for (let rest = demand, part = 1; rest > 0; part *= 2) {
    parts.push(Math.min(part, rest));
    rest -= part;
  }
  return parts;
}
