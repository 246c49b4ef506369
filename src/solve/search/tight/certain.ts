import { type Column, columnOf } from '../../columns/columns.js';
import type { Instance } from '../../instance/instance.js';
import { CELLS_A_UNIT, type EndingWork } from '../../instance/watch.js';

export interface Certain {
  /** Each is on one piece of every plan that leaves no more than the waste in all. */
  readonly sticks: readonly Column[];
  /** What the other pieces have to make, one an item. */
  readonly demand: Int32Array;
  /** There is no such plan. */
  readonly none: boolean;
}

/** Rails times length that are counted over, at most: 38 MB. */
const MOST_CELLS = 100_000_000;
/** Words looked at for each of a row, in a round. */
const WORDS = 4;
const NO_FILLING = -1;
const SEVERAL = -2;

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
  if ((n + 1) * (largest + 1) > MOST_CELLS) return { sticks, demand, none: false };
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

/** Word t of a row of bits moved up by so many places. */
function raised(bits: Int32Array, row: number, t: number, by: number): number {
  const at = t - (by >>> 5);
  if (at < 0) return 0;
  const low = at > 0 && (by & 31) > 0 ? bits[row + at - 1]! >>> (32 - (by & 31)) : 0;
  return (bits[row + at]! << (by & 31)) | low;
}

/** Numbers of fillings, "one or more" and "two or more" each as a bit for each room, 32 to a word. */
class FillingCount {
  private readonly words: number;
  /** Row k: whether the items from the k-th on fill a room, and in two ways. */
  private readonly after: Int32Array;
  private readonly twiceAfter: Int32Array;
  /** Row k: whether the items before the k-th leave a room, and, of the row at hand, in two ways. */
  private readonly before: Int32Array;
  private readonly twiceBefore: Int32Array;

  constructor(private readonly instance: Instance) {
    this.words = (instance.largest >>> 5) + 1;
    const size = (instance.n + 1) * this.words;
    this.after = new Int32Array(size);
    this.twiceAfter = new Int32Array(size);
    this.before = new Int32Array(size);
    this.twiceBefore = new Int32Array(this.words);
  }

  /** Fillings that are the only one of a rail; null where a rail has none. */
  round(demand: Int32Array, waste: number, work: EndingWork): Column[] | null {
    const { n, weight, largest } = this.instance;
    const { before, twiceBefore, words } = this;
    const items: number[] = [];
    for (let i = 0; i < n; i++) if (demand[i]! > 0) items.push(i);
    work.spend((WORDS * items.length * words) / CELLS_A_UNIT);
    this.fillAfter(items, demand, waste);
    before.fill(0, 0, words);
    twiceBefore.fill(0);
    before[largest >>> 5] = 1 << (largest & 31);
    const found: Column[] = [];
    for (let k = 0; k < items.length; k++) {
      const i = items[k]!;
      const room = this.through(k, weight[i]!, demand[i]!);
      if (room === NO_FILLING) return null;
      if (room !== SEVERAL && demand[i] === 1) found.push(this.filling(items, k, room, demand));
      this.takeOff(k, weight[i]!, demand[i]!);
    }
    return found;
  }

  private fillAfter(items: readonly number[], demand: Int32Array, waste: number): void {
    const { after, twiceAfter, words } = this;
    const { weight, largest } = this.instance;
    const last = items.length * words;
    after.fill(0, last, last + words);
    twiceAfter.fill(0, last, last + words);
    for (let room = 0; room <= Math.min(waste, largest); room++)
      after[last + (room >>> 5)]! |= 1 << (room & 31);
    for (let k = items.length - 1; k >= 0; k--) {
      const row = k * words;
      const next = row + words;
      after.copyWithin(row, next, next + words);
      twiceAfter.copyWithin(row, next, next + words);
      const own = weight[items[k]!]!;
      for (let c = 1, take = own; c <= demand[items[k]!]! && take <= largest; c++, take += own) {
        for (let t = take >>> 5; t < words; t++) {
          const more = raised(after, next, t, take);
          if (more === 0) continue;
          const at = row + t;
          twiceAfter[at] = twiceAfter[at]! | raised(twiceAfter, next, t, take) | (after[at]! & more);
          after[at] = after[at]! | more;
        }
      }
    }
  }

  /** Row k + 1 of `before`: up to so many of the k-th item taken off each room. */
  private takeOff(k: number, weight: number, demand: number): void {
    const { before, twiceBefore, words } = this;
    const { largest } = this.instance;
    const row = k * words;
    const next = row + words;
    const twice = twiceBefore.slice();
    before.copyWithin(next, row, next);
    for (let c = 1, take = weight; c <= demand && take <= largest; c++, take += weight) {
      const [over, by] = [take >>> 5, take & 31];
      for (let t = 0; t + over < words; t++) {
        const above = t + over + 1 < words && by > 0;
        const more =
          (before[row + t + over]! >>> by) | (above ? before[row + t + over + 1]! << (32 - by) : 0);
        if (more === 0) continue;
        const twofold = (twice[t + over]! >>> by) | (above ? twice[t + over + 1]! << (32 - by) : 0);
        twiceBefore[t] = twiceBefore[t]! | twofold | (before[next + t]! & more);
        before[next + t] = before[next + t]! | more;
      }
    }
  }

  /** The room before the k-th item in the only filling that holds any of it. */
  private through(k: number, weight: number, demand: number): number {
    const { before, twiceBefore, after, twiceAfter, words } = this;
    const row = k * words;
    const next = row + words;
    let only = NO_FILLING;
    for (let c = 1, take = weight; c <= demand; c++, take += weight) {
      for (let t = take >>> 5; t < words; t++) {
        const here = before[row + t]!;
        if (here === 0) continue;
        const ways = here & raised(after, next, t, take);
        if (ways === 0) continue;
        if (only !== NO_FILLING || (ways & (ways - 1)) !== 0 || (ways & twiceBefore[t]!) !== 0)
          return SEVERAL;
        if ((ways & raised(twiceAfter, next, t, take)) !== 0) return SEVERAL;
        only = 32 * t + 31 - Math.clz32(ways);
      }
    }
    return only;
  }

  private has(bits: Int32Array, row: number, room: number): boolean {
    return room >= 0 && ((bits[row * this.words + (room >>> 5)]! >>> (room & 31)) & 1) === 1;
  }

  /** The one filling with the k-th item, those before it leaving `room`. */
  private filling(items: readonly number[], k: number, room: number, demand: Int32Array): Column {
    const { n, weight, largest } = this.instance;
    const { before, after } = this;
    const counts = new Int32Array(n);
    counts[items[k]!] = 1;
    for (let j = k - 1, left = room; left < largest; j--) {
      const i = items[j]!;
      let c = 0;
      while (!this.has(before, j, left + c * weight[i]!)) c++;
      counts[i] = c;
      left += c * weight[i]!;
    }
    for (let j = k + 1, left = room - weight[items[k]!]!; j < items.length; j++) {
      const i = items[j]!;
      let c = 0;
      while (c < demand[i]! && !this.has(after, j + 1, left - c * weight[i]!)) c++;
      counts[i] = c;
      left -= c * weight[i]!;
    }
    const held = Int32Array.from(counts.keys()).filter((i) => counts[i]! > 0);
    return columnOf(n, 0, [{ items: held, counts: Int32Array.from(held, (i) => counts[i]!) }]);
  }
}
