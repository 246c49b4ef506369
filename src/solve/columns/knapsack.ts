import type { Instance } from '../instance/instance.js';
import { CELLS_A_UNIT, type EndingWork, NODES_A_UNIT, UNCOUNTED } from '../instance/watch.js';
import { type Fold, foldedTable } from './fold.js';

/** Nodes of a search between looks at whether it must end. */
const LOOK = 4_096;
/** Bytes. */
const DOUBLE = 8;

/**
 * Pricing: the bounded knapsack over proper patterns, in whole-number values (at most 2^53 in sum).
 *
 * A table over items and grid cells holds the best value from item i on with a given capacity (Gilmore and Gomory
 * 1961, 1963); where the grid rounds weights down it is an upper bound. A depth-first search guided by the table
 * finds true patterns: it keeps the exact capacity left, so what it returns is feasible, and what it excludes,
 * having run to its end, does not exist.
 */
export class Knapsack {
  /** Made when it is first filled: many problems are proven without. */
  private table: Float64Array = new Float64Array(0);
  private fold: Fold | null = null;
  private waste = Infinity;
  /** Whether items of no value matter, to fill a pattern up. */
  private filler = false;
  private readonly width: number;
  private readonly limit: Int32Array;
  private values: Float64Array;
  private charges: Float64Array;
  private readonly free: Float64Array;
  /** Best with at least one of the item at hand, by cell. */
  private begun: Float64Array = new Float64Array(0);
  // Explicit stack of the search: one level an item taken into consideration.
  private readonly stackItem: Int32Array;
  private readonly stackCount: Int32Array;
  private readonly stackRoom: Float64Array;
  private readonly stackValue: Float64Array;
  private readonly stackKind: Int32Array;
  /** Counts of the pattern found last, one an item. */
  readonly found: Int32Array;
  /** Whether the last search ran to its end (nothing better exists); false: its budget or the time was over. */
  complete = true;

  constructor(
    private readonly instance: Instance,
    private readonly work: EndingWork = UNCOUNTED,
  ) {
    const n = instance.n;
    this.width = instance.cells + 1;
    this.limit = new Int32Array(n);
    this.values = new Float64Array(n);
    this.free = new Float64Array(n);
    this.charges = this.free;
    this.stackItem = new Int32Array(n + 1);
    this.stackCount = new Int32Array(n + 1);
    this.stackRoom = new Float64Array(n + 1);
    this.stackValue = new Float64Array(n + 1);
    this.stackKind = new Int32Array(n + 1);
    this.found = new Int32Array(n);
  }

  /**
   * Fills the table for these values (whole, ≥ 0) and at most `most[i]` copies of item i in a pattern that leaves at
   * most `waste` of its capacity; waste is not kept to on a coarse grid, nor with kinds. With `charges` (whole, ≥ 0) a
   * pattern is worth its values less the charge of each item it holds any of: an item is taken not at all, or one time
   * or more less its charge.
   */
  load(values: Float64Array, most: Int32Array, waste = Infinity, charges: Float64Array | null = null): void {
    this.charges = charges ?? this.free;
    const { n, gridWeight, weight, largest, unit, kinds } = this.instance;
    if (this.table.length === 0) this.make();
    const { table, width, limit } = this;
    this.values = values;
    this.waste = unit === 1 && !kinds ? waste : Infinity;
    this.filler = this.waste < largest;
    table.fill(-Infinity, n * width, (n + 1) * width);
    let rows = n;
    table.fill(0, n * width, n * width + Math.min(width, this.waste + 1));
    const { fold } = this;
    for (let i = n - 1; i >= 0; i--) {
      const row = i * width;
      const next = row + width;
      const fit = Math.floor(largest / weight[i]!);
      const copies = Math.min(most[i]!, fit);
      limit[i] = copies;
      const u = values[i]!;
      const g = gridWeight[i]!;
      const f = this.charges[i]!;
      const single = copies === 1 || most[i]! < fit;
      const idle = copies <= 0 || (u <= 0 && !this.filler);
      if (fold && !idle && g > 1 && g <= width && (single || f === 0)) {
        rows += single ? copies : 0;
        table.copyWithin(row, next, next + g);
        const end = DOUBLE * (row + width);
        fold(DOUBLE * (row + g), DOUBLE * (next + g), DOUBLE * (single ? next : row), end, u - f);
        for (let k = 2, at = row + 2 * g; single && k <= copies && at < next; k++, at += g) {
          fold(DOUBLE * at, DOUBLE * at, DOUBLE * next, end, k * u - f);
        }
        continue;
      }
      table.copyWithin(row, next, next + width);
      if (idle) continue;
      if (g === 0) {
        for (let c = 0; c < width; c++) table[row + c] = table[next + c]! + Math.max(0, copies * u - f);
      } else if (single) {
        rows += copies;
        for (let k = 1; k <= copies; k++) {
          const ku = k * u - f;
          const kg = k * g;
          for (let c = kg, from = next; c < width; c++, from++) {
            const v = table[from]! + ku;
            if (v > table[row + c]!) table[row + c] = v;
          }
        }
      } else if (f === 0) {
        for (let c = row + g, end = row + width; c < end; c++) {
          const v = table[c - g]! + u;
          if (v > table[c]!) table[c] = v;
        }
      } else {
        if (this.begun.length === 0) this.begun = new Float64Array(width);
        const { begun } = this;
        begun.fill(-Infinity, 0, g);
        for (let c = g; c < width; c++) {
          const v = Math.max(table[next + c - g]! - f, begun[c - g]!) + u;
          begun[c] = v;
          if (v > table[row + c]!) table[row + c] = v;
        }
      }
    }
    this.work.spend((rows * width) / CELLS_A_UNIT);
  }

  private make(): void {
    const size = (this.instance.n + 1) * this.width;
    const folded = foldedTable(size);
    this.table = folded?.table ?? new Float64Array(size);
    this.fold = folded?.fold ?? null;
  }

  /** No pattern of this capacity is worth more. */
  upper(capacity: number): number {
    return capacity < 0 ? 0 : Math.max(0, this.table[Math.floor(capacity / this.instance.unit)]!);
  }

  /** No pattern whose first item is `i` is worth more; −1 when none holds it. */
  upperFrom(i: number, capacity: number): number {
    const { unit, weight } = this.instance;
    const next = (i + 1) * this.width;
    let best = -1;
    let room = capacity;
    for (let k = 1; k <= this.limit[i]!; k++) {
      room -= weight[i]!;
      if (room < 0) break;
      const v = k * this.values[i]! - this.charges[i]! + this.table[next + Math.floor(room / unit)]!;
      if (v > best) best = v;
    }
    return best;
  }

  /**
   * The most valuable pattern whose first item is `first`, in `found`: only on an exact grid, without kinds and charges,
   * where the table says all. Answers its worth; −1 where it holds two items that may not share a piece, or where there is none.
   *
   * Down a column of the table values only fall, and the pattern's next item is the last before the first fall: found by
   * halving, as a column lies scattered in memory.
   */
  straight(first: number, capacity: number): number {
    const { n, weight, apart } = this.instance;
    const { table, width, limit, values, found } = this;
    found.fill(0);
    let room = capacity;
    let size = 0;
    let worth = this.upperFrom(first, capacity);
    const answer = worth;
    let i = first;
    while (worth > -Infinity && answer >= 0) {
      const most = Math.min(limit[i]!, Math.floor(room / weight[i]!));
      const next = (i + 1) * width;
      let k = 1;
      while (k <= most && k * values[i]! + table[next + room - k * weight[i]!]! !== worth) k++;
      if (k > most) return -1;
      found[i] = k;
      for (let d = 0; d < size; d++) if (apart?.[i * n + this.stackItem[d]!] === 1) return -1;
      this.stackItem[size++] = i;
      room -= k * weight[i]!;
      worth -= k * values[i]!;
      // Row n holds nothing more: the end of every pattern.
      let [low, high] = [i + 1, n];
      if (table[high * width + room] === worth) break;
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (table[middle * width + room]! < worth) high = middle;
        else low = middle;
      }
      i = low;
    }
    this.work.spend(size);
    return answer;
  }

  /**
   * The most valuable pattern worth more than `threshold` (in `found`), or −1. `first` ≥ 0 asks for patterns whose
   * first item is that one. With `onPattern` every pattern above the threshold is handed out instead (return false
   * to stop) and −1 comes back.
   */
  search(
    capacity: number,
    threshold: number,
    budget: number,
    first = -1,
    onPattern:
      | ((items: Int32Array, counts: Int32Array, size: number, value: number) => boolean)
      | null = null,
  ): number {
    const { n, weight, unit, kind, kinds, apart } = this.instance;
    const {
      table,
      width,
      limit,
      values,
      charges,
      stackItem,
      stackCount,
      stackRoom,
      stackValue,
      stackKind,
      found,
    } = this;
    const { waste, filler } = this;
    let best = -1;
    let least = threshold;
    let depth = 0;
    let i = Math.max(first, 0);
    let room = capacity;
    let value = 0;
    let last = -1;
    let nodes = 0;
    let counted = 0;
    this.complete = true;
    for (;;) {
      let alive = true;
      while (i < n) {
        if (value + table[i * width + Math.floor(room / unit)]! <= least) {
          alive = false;
          break;
        }
        let copies =
          (filler || values[i]! > 0) && weight[i]! <= room
            ? Math.min(limit[i]!, Math.floor(room / weight[i]!))
            : 0;
        if (apart && copies > 0) {
          for (let d = 0; d < depth && copies > 0; d++) {
            if (stackCount[d]! > 0 && apart[i * n + stackItem[d]!] === 1) copies = 0;
          }
        }
        if (copies > 0) {
          let k = copies;
          let left = room - k * weight[i]!;
          if (kinds) {
            const own = kind[i]!;
            const meet = last < 0 ? kinds.start[own]! : kinds.joint[last]![own]!;
            while (k > 0 && room - k * weight[i]! - meet - (k - 1) * kinds.joint[own]![own]! < 0) k--;
            left = k > 0 ? room - k * weight[i]! - meet - (k - 1) * kinds.joint[own]![own]! : room;
          }
          stackItem[depth] = i;
          stackCount[depth] = k;
          stackRoom[depth] = room;
          stackValue[depth] = value;
          stackKind[depth] = last;
          depth++;
          if (k > 0) {
            room = left;
            value += k * values[i]! - charges[i]!;
            last = kind[i]!;
          }
          nodes++;
        }
        i++;
        if (first >= 0 && depth === 0) {
          alive = false;
          break;
        }
      }
      if (alive && value > least && room <= waste) {
        if (onPattern) {
          if (!onPattern(stackItem, stackCount, depth, value)) {
            this.complete = false;
            this.work.spend((nodes - counted) / NODES_A_UNIT);
            return -1;
          }
        } else {
          best = value;
          least = value;
          found.fill(0);
          for (let d = 0; d < depth; d++) found[stackItem[d]!] = stackCount[d]!;
        }
      }
      let ended = nodes > budget;
      if (nodes - counted >= LOOK) {
        this.work.spend((nodes - counted) / NODES_A_UNIT);
        counted = nodes;
        ended ||= this.work.over();
      }
      if (ended) {
        this.complete = false;
        this.work.spend((nodes - counted) / NODES_A_UNIT);
        return best;
      }
      // Back to the deepest level that can still take fewer copies.
      const floor = first >= 0 ? 1 : 0;
      while (depth > 0 && stackCount[depth - 1]! <= (depth === 1 ? floor : 0)) depth--;
      if (depth === 0) {
        this.work.spend((nodes - counted) / NODES_A_UNIT);
        return best;
      }
      const d = depth - 1;
      stackCount[d] = stackCount[d]! - 1;
      const k = stackCount[d]!;
      i = stackItem[d]!;
      room = stackRoom[d]!;
      value = stackValue[d]!;
      last = stackKind[d]!;
      if (k > 0) {
        room -= k * weight[i]!;
        if (kinds) {
          const own = kind[i]!;
          room -=
            (last < 0 ? kinds.start[own]! : kinds.joint[last]![own]!) + (k - 1) * kinds.joint[own]![own]!;
        }
        value += k * values[i]! - charges[i]!;
        last = kind[i]!;
      }
      i++;
    }
  }
}
