import { type Column, columnOf } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { CELLS_A_UNIT, type EndingWork } from '../instance/watch.js';

export interface Certain {
  /** Each is on one piece of every plan that leaves no more than the waste in all. */
  readonly sticks: readonly Column[];
  /** What the other pieces have to make, one an item. */
  readonly demand: Int32Array;
  /** There is no such plan. */
  readonly none: boolean;
}

/** Bytes of the table, one a rail and unit of length, and the longest piece that rails are counted on. */
const MOST_CELLS = 85_000_000;
const LONGEST = 100_000;

/**
 * Sticks that every plan cuts which makes the demand and leaves at most `waste` in all: a rail that is needed once, and
 * that only one filling holds which leaves no more, is on such a stick. Without its rails others have one filling left, and
 * so on. Fillings are counted by sums from both ends of the list of rails, to "none, one, more", in whole numbers: `none`
 * is proven. For one group of whole pieces; no sticks where they are too long or rails too many.
 */
export function certainSticks(instance: Instance, waste: number, work: EndingWork): Certain {
  const { n, weight, largest } = instance;
  const demand = instance.demand.slice();
  const sticks: Column[] = [];
  if (largest > LONGEST || (n + 1) * (largest + 1) > MOST_CELLS) return { sticks, demand, none: false };
  const counting = new FillingCount(instance);
  for (let left = waste; ; ) {
    const round = counting.round(demand, left, work);
    if (!round) return { sticks, demand, none: true };
    const known = sticks.length;
    for (const column of round) {
      // Another of this round may have taken its rails: the same stick, or in the next round there is no plan.
      if (column.items.some((i, e) => demand[i]! < column.counts[e]!)) continue;
      left -= largest;
      column.items.forEach((i, e) => {
        demand[i]! -= column.counts[e]!;
        left += column.counts[e]! * weight[i]!;
      });
      sticks.push(column);
    }
    if (left < 0) return { sticks, demand, none: true };
    if (sticks.length === known || work.over() || demand.every((d) => d === 0)) {
      return { sticks, demand, none: false };
    }
  }
}

class FillingCount {
  private readonly width: number;
  /** Row k: ways to fill each room with the items from the k-th on, counted up to two. */
  private readonly after: Uint8Array;
  /** Ways to come to each length with the items before, up to two; the item and its number by which it was first come to. */
  private readonly before: Uint8Array;
  private readonly by: Int32Array;
  private readonly copies: Int32Array;

  constructor(private readonly instance: Instance) {
    this.width = instance.largest + 1;
    this.after = new Uint8Array((instance.n + 1) * this.width);
    this.before = new Uint8Array(this.width);
    this.by = new Int32Array(this.width);
    this.copies = new Int32Array(this.width);
  }

  /** Fillings that are the only one of a rail; null where a rail has none. */
  round(demand: Int32Array, waste: number, work: EndingWork): Column[] | null {
    const { n, weight, largest } = this.instance;
    const { after, before, by, copies, width } = this;
    const items: number[] = [];
    for (let i = 0; i < n; i++) if (demand[i]! > 0) items.push(i);
    const size = items.length;
    work.spend((2 * size * width) / CELLS_A_UNIT);
    after.fill(0, size * width, (size + 1) * width);
    after.fill(1, size * width, size * width + Math.min(waste, largest) + 1);
    for (let k = size - 1; k >= 0; k--) {
      const row = k * width;
      const own = weight[items[k]!]!;
      after.copyWithin(row, row + width, row + 2 * width);
      for (let c = 1, take = own; c <= demand[items[k]!]! && take <= largest; c++, take += own) {
        for (let to = row + take, from = row + width; to < row + width; to++, from++) {
          if (after[from] !== 0) after[to] = Math.min(2, after[to]! + after[from]!);
        }
      }
    }
    before.fill(0);
    before[0] = 1;
    const found: Column[] = [];
    for (let k = 0; k < size; k++) {
      const i = items[k]!;
      const [ways, sum] = this.through(k, weight[i]!, demand[i]!);
      if (ways === 0) return null;
      if (ways === 1 && demand[i] === 1) found.push(this.filling(items, k, sum, demand));
      // Longest first, so that what is added to is still without this item.
      for (let to = largest; to >= weight[i]!; to--) {
        for (let c = 1, from = to - weight[i]!; c <= demand[i]! && from >= 0; c++, from -= weight[i]!) {
          if (before[from] === 0 || before[to] === 2) continue;
          if (before[to] === 0) [by[to], copies[to]] = [i, c];
          before[to] = Math.min(2, before[to]! + before[from]!);
        }
      }
    }
    return found;
  }

  /** Ways to fill a piece with any of the k-th item on it, up to two, and what comes before it in the last one. */
  private through(k: number, weight: number, demand: number): [ways: number, sum: number] {
    const { before, after, width } = this;
    const next = (k + 1) * width;
    let ways = 0;
    let last = 0;
    for (let c = 1, take = weight; c <= demand; c++, take += weight) {
      for (let sum = 0, room = width - 1 - take; room >= 0; sum++, room--) {
        if (before[sum] === 0 || after[next + room] === 0) continue;
        ways += before[sum]! * after[next + room]!;
        last = sum;
        if (ways > 1) return [2, last];
      }
    }
    return [ways, last];
  }

  /** The one filling with the k-th item, those before it coming to `sum`. */
  private filling(items: readonly number[], k: number, sum: number, demand: Int32Array): Column {
    const { n, weight, largest } = this.instance;
    const { by, copies, after, width } = this;
    const counts = new Int32Array(n);
    counts[items[k]!] = 1;
    for (let left = sum; left > 0; ) {
      const i = by[left]!;
      counts[i] = copies[left]!;
      left -= copies[left]! * weight[i]!;
    }
    for (let j = k + 1, room = largest - sum - weight[items[k]!]!; j < items.length; j++) {
      const i = items[j]!;
      let c = 0;
      while (c < demand[i]! && after[(j + 1) * width + room - c * weight[i]!] === 0) c++;
      counts[i] = c;
      room -= c * weight[i]!;
    }
    const held = Int32Array.from(counts.keys()).filter((i) => counts[i]! > 0);
    return columnOf(n, 0, [{ items: held, counts: Int32Array.from(held, (i) => counts[i]!) }]);
  }
}
