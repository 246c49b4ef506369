import type { Fill } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { FEW_NODES_A_UNIT, type Work } from '../instance/watch.js';
import type { BinType, Filling } from './close-pack.js';
import { FewBins, MOST_RAILS } from './few-bins.js';
import { FullBin } from './full-bin.js';
import { PerfectBins } from './perfect.js';
import { wordsOf } from './subset-sums.js';

/** Words passed through in a unit of work. */
const WORDS_A_UNIT = 1_000;

/** Rails in all: each bin is kept by itself. */
const MOST_IN_ALL = 4_000;
/**
 * Repackings in a row that leave no less over, fewer where a row of sums has more words than so many, and nodes of the
 * search for a way to fill them all.
 */
const REPACKS = 150;
const FEW_WORDS = 100;
const NODES = 150;
/** Bins taken at random beside those with waste: so many to twice as many. */
const OTHERS = 3;
/** How often another rail than the heaviest is tried, and how often a plan no better in itself is gone on with. */
const STRAY = 0.5;
const SIDEWAYS = 0.1;

/**
 * Packs into a given number of equal bins. First each bin is filled as full as the rails left allow, the heaviest first
 * (minimal bin slack; Gupta and Ho 1999), by subset sums instead of search. Then a few bins, those with waste and some
 * others, are emptied and filled again, rails not always the heaviest (perturbation MBS'; Fleszar and Hindi 2002), or
 * all their rails and those left over are packed by exact search. Where nothing at all may be wasted only perfect bins
 * are kept, and a few are parted to make one more. A failed attempt proves nothing.
 */
export class Repacker {
  readonly #n: number;
  readonly #demand: Int32Array;
  readonly #capacity: number;
  readonly #random: () => number;
  readonly #work: Work;
  readonly #full: FullBin;
  readonly #few: FewBins;
  /** Items of each bin, and what it wastes. */
  readonly #bins: number[][] = [];
  readonly #waste: number[] = [];
  /** What all bins may waste together. */
  #slack = 0;

  static serves(instance: Instance): boolean {
    const rails = instance.demand.reduce((sum, d) => sum + d, 0);
    return rails <= MOST_IN_ALL && FullBin.serves(instance) && instance.groups[0]!.supply === Infinity;
  }

  constructor(instance: Instance, random: () => number, work: Work) {
    this.#n = instance.n;
    this.#demand = instance.demand;
    this.#capacity = instance.largest;
    this.#random = random;
    this.#work = work;
    this.#full = new FullBin(instance, random);
    this.#few = new FewBins(instance.largest);
  }

  /** Fillings of so many bins that hold everything, each as full as can be; null where something is left over. */
  pack(bins: number): Filling[] | null {
    this.#slack = bins * this.#capacity;
    for (let i = 0; i < this.#n; i++) this.#slack -= this.#demand[i]! * this.#full.weight[i]!;
    if (this.#slack < 0) return null;
    this.#first(bins);
    return this.#told(this.#full.left() === 0 ? this.#bins : null);
  }

  /** The same with the bins of the last `pack` emptied and filled again. */
  repack(): Filling[] | null {
    if (this.#slack < 0) return null;
    if (this.#slack > 0) return this.#told(this.#repack() ? this.#bins : null);
    const perfect = new PerfectBins(this.#capacity, this.#full, this.#few, this.#random, this.#work);
    return this.#told(perfect.pack(this.#bins, this.#waste));
  }

  #told(bins: readonly (readonly number[])[] | null): Filling[] | null {
    this.#work.spend(this.#full.words / WORDS_A_UNIT);
    this.#full.words = 0;
    return bins && this.#fillings(bins);
  }

  /** Bin after bin as full as can be. */
  #first(bins: number): void {
    const full = this.#full;
    const { rest } = full;
    rest.set(this.#demand);
    this.#bins.length = 0;
    this.#waste.length = 0;
    let lead = 0;
    while (this.#bins.length < bins) {
      lead = full.lead(lead);
      const filled: number[] = [];
      const waste = lead === this.#n ? this.#capacity : full.fill(lead, filled, 0);
      // The same again, as often as there are rails for it.
      let times = 1;
      if (filled.length > 0) {
        times = bins - this.#bins.length;
        for (let e = 0, same = 0; e < filled.length; e++) {
          same = e > 0 && filled[e] === filled[e - 1] ? same + 1 : 1;
          if (filled[e + 1] !== filled[e]) times = Math.min(times, 1 + Math.floor(rest[filled[e]!]! / same));
        }
      }
      for (let t = 0; t < times; t++) {
        this.#bins.push(t === 0 ? filled : [...filled]);
        this.#waste.push(waste);
        if (t > 0) for (const i of filled) rest[i]!--;
      }
    }
  }

  #below(limit: number): number {
    return Math.floor(this.#random() * limit);
  }

  /** Empties a few bins and fills them again, until nothing is left over. */
  #repack(): boolean {
    const [bins, waste, few] = [this.#bins, this.#waste, this.#few];
    const { rest, weight } = this.#full;
    const before = new Int32Array(this.#n);
    const wasteful: number[] = [];
    const most = REPACKS * Math.min(1, FEW_WORDS / wordsOf(this.#capacity));
    for (let t = 0, left = this.#full.left(), best = left; t < most; t++) {
      wasteful.length = 0;
      for (let b = 0; b < bins.length; b++) if (waste[b]! > 0) wasteful.push(b);
      let [chosen, room] = [0, 0];
      // Enough of them to take in what is left over.
      for (; chosen < wasteful.length && room < left; chosen++) {
        const at = chosen + this.#below(wasteful.length - chosen);
        const b = wasteful[at]!;
        wasteful[at] = wasteful[chosen]!;
        wasteful[chosen] = b;
        room += waste[b]!;
      }
      wasteful.length = chosen;
      const others = OTHERS + this.#below(OTHERS + 1);
      for (let k = 0; k < others && wasteful.length < bins.length; ) {
        const b = this.#below(bins.length);
        if (wasteful.includes(b)) continue;
        wasteful.push(b);
        room += waste[b]!;
        k++;
      }
      before.set(rest);
      let rails = 0;
      for (const b of wasteful) {
        rails += bins[b]!.length;
        for (const i of bins[b]!) rest[i]!++;
      }
      for (let i = 0; i < this.#n; i++) rails += before[i]!;
      if (room >= left && rails <= MOST_RAILS) {
        few.clear();
        for (let i = 0; i < this.#n; i++) for (let k = 0; k < rest[i]!; k++) few.add(i, weight[i]!);
        const packed = few.search(wasteful.length, room - left, NODES);
        this.#work.spend((NODES - few.nodesLeft) / FEW_NODES_A_UNIT);
        if (packed) {
          for (const b of wasteful) bins[b] = [];
          few.take((i, bin) => bins[wasteful[bin - 1]!]!.push(i));
          return true;
        }
      }
      left = this.#refill(wasteful, left, before);
      if (left === 0) return true;
      if (left < best) [best, t] = [left, 0];
    }
    return false;
  }

  /** Fills these empty bins anew, if that is no worse; length of what is left over. */
  #refill(chosen: readonly number[], left: number, before: Int32Array): number {
    const [bins, waste, full] = [this.#bins, this.#waste, this.#full];
    const filled: number[][] = [];
    const wastes: number[] = [];
    let [squares, old] = [0, 0];
    for (const b of chosen) {
      const now: number[] = [];
      const lead = full.lead(0);
      const wasted = lead === this.#n ? this.#capacity : full.fill(lead, now, STRAY);
      filled.push(now);
      wastes.push(wasted);
      squares += wasted ** 2;
      old += waste[b]! ** 2;
    }
    const over = full.left();
    // Waste in few bins is of more use than the same in many.
    const better = over < left || (over === left && (squares >= old || this.#random() < SIDEWAYS));
    if (!better) {
      full.rest.set(before);
      return left;
    }
    for (const [k, b] of chosen.entries()) {
      bins[b] = filled[k]!;
      waste[b] = wastes[k]!;
    }
    return over;
  }

  /** Equal bins that follow each other as one filling. */
  #fillings(bins: readonly (readonly number[])[]): Filling[] {
    const type: BinType = { group: 0, segment: 0, capacity: this.#capacity };
    const fillings: Filling[] = [];
    let before: readonly number[] = [];
    let times = 0;
    for (let b = 0; b <= bins.length; b++) {
      const bin = bins[b] ?? [];
      if (b < bins.length && isSame(bin, before)) {
        times++;
        continue;
      }
      if (before.length > 0) fillings.push({ type, fill: fillOfRails(before), times });
      [before, times] = [bin, 1];
    }
    return fillings;
  }
}

function isSame(one: readonly number[], other: readonly number[]): boolean {
  if (one.length !== other.length) return false;
  for (let k = 0; k < one.length; k++) if (one[k] !== other[k]) return false;
  return true;
}

/** Of each item as many as it stands in the list. */
function fillOfRails(rails: readonly number[]): Fill {
  const sorted = Int32Array.from(rails).sort();
  let size = 0;
  for (let k = 0; k < sorted.length; k++) if (sorted[k] !== sorted[k - 1]) size++;
  const items = new Int32Array(size);
  const counts = new Int32Array(size);
  for (let k = 0, at = -1; k < sorted.length; k++) {
    if (sorted[k] !== sorted[k - 1]) items[++at] = sorted[k]!;
    counts[at]!++;
  }
  return { items, counts };
}
