import type { Instance } from '../instance/instance.js';
import type { EndingWork } from '../instance/watch.js';
import { type Column, columnOf } from './columns.js';
import { HalfTable, type Steps } from './half-table.js';
import { ScarceSums } from './scarce-sums.js';

/** Longest piece (two tables of 12 MB), sums in all, sums that take no longer than a coarse table, and in a unit of work. */
const MOST_ROOM = 2_000_000;
const MOST_MADE = 300_000_000;
const CHEAP = 12_000_000;
const MADE_A_UNIT = 700;
/** Points of a table that are looked at as one where their best is not enough. */
const BLOCK = 32;

/** The best pattern that holds an item in its middle: rooms of its two ends, or the node of a sum of scarce items and the room beside it. */
interface MiddlePattern {
  readonly item: number;
  readonly worth: number;
  readonly left: number;
  readonly right: number;
}

/**
 * Pricing to the single unit of length, where the table stands on a coarser grid. The items of a pattern can be put in a
 * row so that one stands across the middle of the piece, and none of the two ends is longer than half of it (meet in
 * the middle; Horowitz and Sahni 1974): tables of half a piece say the rest. Items that a piece holds more of than are asked
 * for are scarce: they stand at the left end, all of them, or take up more than half of the piece.
 * For one group of whole pieces without charges.
 */
export class ExactPricing {
  /** Whether it has served so far. */
  serves: boolean;
  /** Whether it took no more than `CHEAP` the last time. */
  cheap = true;
  private readonly half: number;
  private readonly scarce: number[] = [];
  private readonly plenty: number[] = [];
  private readonly all: number[] = [];
  private readonly sums: ScarceSums | null;
  /** Of items in plenty beside scarce ones, of items in plenty alone, and of all as if they were in plenty. */
  private tables: {
    readonly left: HalfTable;
    readonly right: HalfTable;
    readonly ceiling: HalfTable;
  } | null = null;
  private values: Float64Array = new Float64Array(0);
  /** Sums looked at this time. */
  private made = 0;
  /** Of `price`: the best by item. */
  private readonly best: MiddlePattern[] = [];

  constructor(
    private readonly instance: Instance,
    private readonly work: EndingWork,
  ) {
    const { n, weight, demand, largest, groups, unit, kinds } = instance;
    this.half = Math.floor(largest / 2);
    // Shortest first.
    for (let i = n - 1; i >= 0; i--) {
      this.all.push(i);
      (demand[i]! < Math.floor(largest / weight[i]!) ? this.scarce : this.plenty).push(i);
    }
    this.sums = this.scarce.length > 0 ? new ScarceSums(largest) : null;
    const whole = groups.length === 1 && groups[0]!.segments.length === 1;
    this.serves = unit > 1 && !kinds && whole && largest <= MOST_ROOM && weight[n - 1]! > 0;
  }

  /**
   * No pattern is worth more than this or than `least` at these whole values, at most `demand` of an item; Infinity where it
   * cannot be told. `cheaply`: it is given up where it takes long.
   */
  price(values: Float64Array, least: number, cheaply = false): number {
    if (!this.serves) return Infinity;
    this.made = 0;
    const most = cheaply ? CHEAP : MOST_MADE;
    const told = this.fill(values, least, most);
    // Scarce items may have been left out of what is worth no more than `least`.
    const worth = told ? Math.max(this.join(least), this.sums ? least : 0) : Infinity;
    this.cheap = told && this.made <= CHEAP;
    this.serves = told || cheaply;
    this.work.spend(Math.min(this.made, most) / MADE_A_UNIT);
    return worth;
  }

  /** The best patterns that hold an item, for each item of which one is worth more than `least`: the most worthy first. */
  *patterns(least: number): Generator<Column> {
    const { n, weight } = this.instance;
    const { tables, sums, best } = this;
    if (!tables) return;
    best.sort((a, b) => b.worth - a.worth || a.item - b.item);
    for (const { item, worth, left, right } of best) {
      if (worth <= least) return;
      const held = new Map<number, number>();
      if (left < 0) for (const s of sums!.items(-1 - left)) held.set(s, (held.get(s) ?? 0) + 1);
      else {
        tables.left.hold(left, weight, sums, held);
        if (item >= 0) held.set(item, (held.get(item) ?? 0) + 1);
      }
      tables.right.hold(right, weight, null, held);
      const items = Int32Array.from(held.keys()).sort();
      yield columnOf(n, 0, [{ items, counts: items.map((i) => held.get(i)!) }]);
    }
  }

  /** Fills the tables; false where that takes more than so many sums. */
  private fill(values: Float64Array, least: number, most: number): boolean {
    const { instance, half, scarce, sums } = this;
    const { weight, demand, largest } = instance;
    this.values = values;
    if (!this.tables) {
      const right = new HalfTable(half);
      const [left, ceiling] = sums ? [new HalfTable(half), new HalfTable(half)] : [right, right];
      this.tables = { left, right, ceiling };
    }
    const { left, right, ceiling } = this.tables;
    const steps = this.steps(this.plenty);
    this.made += right.fill(steps, null, most);
    if (!sums || this.made > most) return this.made <= most;
    this.made += ceiling.fill(this.steps(this.all), null, most);
    sums.begin(ceiling.worth, least);
    for (const i of scarce) {
      const copies = values[i]! > 0 ? Math.min(demand[i]!, Math.floor(largest / weight[i]!)) : 0;
      for (let k = 0; k < copies && this.made <= most; k++) this.made += sums.add(i, weight[i]!, values[i]!);
    }
    if (this.made <= most) this.made += left.fill(steps, sums, most);
    return this.made <= most;
  }

  private steps(items: readonly number[]): Steps {
    const { values } = this;
    const { weight } = this.instance;
    let top = 0;
    const chosen = items.filter((i) => {
      const more = values[i]! > top;
      top = Math.max(top, values[i]!);
      return more;
    });
    return {
      item: Int32Array.from(chosen),
      length: Int32Array.from(chosen, (i) => weight[i]!),
      worth: Float64Array.from(chosen, (i) => values[i]!),
      count: chosen.length,
    };
  }

  /** The best pattern for each item in the middle, and for scarce items beyond it; answers what the best of all is worth. */
  private join(least: number): number {
    const { instance, half, plenty, values, best, sums } = this;
    const { weight, largest } = instance;
    const { left, right } = this.tables!;
    best.length = 0;
    let top = left.worth[half]!;
    if (top > least) best.push({ item: -1, worth: top, left: half, right: 0 });
    let looked = 0;
    for (const i of plenty) {
      const value = values[i]!;
      if (value <= 0) continue;
      const room = largest - weight[i]!;
      // Both ends may change places where nothing is scarce.
      const from = right.at(sums ? Math.max(0, room - half) : Math.floor(room / 2));
      const to = right.at(Math.min(half, room));
      let found = Math.min(top, least) - value;
      let end = -1;
      for (let block = from; block <= to; block += BLOCK) {
        const stop = Math.min(block + BLOCK - 1, to);
        const beside = left.worth[Math.min(half, room - right.points[block]!)]!;
        looked++;
        if (right.worth[right.points[stop]!]! + beside <= found) continue;
        looked += BLOCK;
        for (let k = block; k <= stop; k++) {
          const at = right.points[k]!;
          const sum = right.worth[at]! + left.worth[Math.min(half, room - at)]!;
          if (sum > found) [found, end] = [sum, at];
        }
      }
      if (end < 0) continue;
      top = Math.max(top, found + value);
      if (found + value > least)
        best.push({ item: i, worth: found + value, left: Math.min(half, room - end), right: end });
    }
    if (sums) top = this.beyond(top, least);
    this.made += looked;
    return top;
  }

  /** Patterns whose scarce items alone are longer than half a piece. */
  private beyond(top: number, least: number): number {
    const { half, best, sums } = this;
    const { largest } = this.instance;
    const { list } = sums!;
    const { right } = this.tables!;
    const byItem = new Map<number, MiddlePattern>();
    let most = top;
    for (let k = list.count - 1; k > 0 && list.length[k]! > half; k--) {
      const rest = largest - list.length[k]!;
      const worth = list.worth[k]! + right.worth[rest]!;
      most = Math.max(most, worth);
      if (worth <= least) continue;
      const [item] = sums!.items(list.node[k]!);
      const known = byItem.get(item!);
      if (!known || known.worth < worth)
        byItem.set(item!, { item: item!, worth, left: -1 - list.node[k]!, right: rest });
    }
    best.push(...byItem.values());
    return most;
  }
}
