import { addRail, reachesAny, wordsOf } from './subset-sums.js';

/** Rails at most. */
export const MOST_RAILS = 64;

/**
 * Exact search over a few rails: so many bins with so much waste in all, all other rails left out. Bin by bin the heaviest
 * rail left leads (bin completion; Korf 2002), the others follow the heaviest first, and the last two are found as a
 * pair by two pointers that move towards each other.
 */
export class FewBins {
  readonly #capacity: number;
  readonly #weight = new Int32Array(MOST_RAILS);
  readonly #item = new Int32Array(MOST_RAILS);
  /** The bin a rail is in, counted from 1; 0: none, −1: left out. */
  readonly #bin = new Int8Array(MOST_RAILS);
  #size = 0;
  #sum = 0;
  /** Sums that the rails from each place on reach; made when a bin holds more than three. */
  #rows = new Int32Array(0);
  #reached = false;
  #nodes = 0;

  constructor(capacity: number) {
    this.#capacity = capacity;
  }

  clear(): void {
    this.#size = 0;
    this.#sum = 0;
  }

  /** Puts a rail in its place; at most `MOST_RAILS`. */
  add(item: number, weight: number): void {
    const [weights, items] = [this.#weight, this.#item];
    let at = this.#size++;
    while (at > 0 && weights[at - 1]! < weight) {
      weights[at] = weights[at - 1]!;
      items[at] = items[at - 1]!;
      at--;
    }
    weights[at] = weight;
    items[at] = item;
    this.#sum += weight;
  }

  get size(): number {
    return this.#size;
  }

  get sum(): number {
    return this.#sum;
  }

  /** Nodes left of those the last search was given; below 0: it was cut short. */
  get nodesLeft(): number {
    return this.#nodes;
  }

  /** Whether so many bins were filled; what is in them is told by `take`. */
  search(bins: number, waste: number, nodes: number): boolean {
    const spare = this.#sum - bins * this.#capacity + waste;
    if (spare < 0) return false;
    this.#bin.fill(0, 0, this.#size);
    this.#nodes = nodes;
    this.#reached = false;
    return this.#next(0, bins, waste, spare);
  }

  /** Calls `put` for each rail: its item and its bin, counted from 1; 0 for a rail that was left out. */
  take(put: (item: number, bin: number) => void): void {
    for (let k = 0; k < this.#size; k++) put(this.#item[k]!, Math.max(0, this.#bin[k]!));
  }

  /** `spare`: length of the rails that may be left out. */
  #next(from: number, bins: number, waste: number, spare: number): boolean {
    if (bins === 0) return true;
    if (--this.#nodes < 0) return false;
    const [bin, weight] = [this.#bin, this.#weight];
    let lead = from;
    while (lead < this.#size && bin[lead] !== 0) lead++;
    if (lead === this.#size) return false;
    const w = weight[lead]!;
    bin[lead] = bins;
    if (this.#fill(lead, lead + 1, this.#capacity - w, bins, waste, spare)) return true;
    bin[lead] = 0;
    if (spare < w || this.#nodes < 0) return false;
    bin[lead] = -1;
    if (this.#next(lead + 1, bins, waste, spare - w)) return true;
    bin[lead] = 0;
    return false;
  }

  /** Goes on with the bin of `lead`, with rails from place `at` on. */
  #fill(lead: number, at: number, room: number, bins: number, waste: number, spare: number): boolean {
    if (--this.#nodes < 0) return false;
    const [bin, weight, size] = [this.#bin, this.#weight, this.#size];
    if (room < 3 * weight[size - 1]!) return this.#pair(lead, at, room, bins, waste, spare);
    if (!this.#reached) this.#reach();
    const words = wordsOf(this.#capacity);
    let last = -1;
    for (let k = at; k < size; k++) {
      const w = weight[k]!;
      if (bin[k] !== 0 || w > room || w === last) continue;
      if (!reachesAny(this.#rows, k * words, room - waste, room)) break;
      last = w;
      bin[k] = bins;
      if (this.#fill(lead, k + 1, room - w, bins, waste, spare)) return true;
      bin[k] = 0;
      if (this.#nodes < 0) return false;
    }
    // A rail that still fits may as well be there.
    return room <= waste && this.#lightest() > room && this.#next(lead + 1, bins - 1, waste - room, spare);
  }

  /** The last two rails of the bin, the last one, or none. */
  #pair(lead: number, at: number, room: number, bins: number, waste: number, spare: number): boolean {
    const [bin, weight, size] = [this.#bin, this.#weight, this.#size];
    let low = size;
    let last = -1;
    for (let high = at; high < size; high++) {
      const w = weight[high]!;
      if (bin[high] !== 0 || w > room || w === last) continue;
      last = w;
      const rest = room - w;
      bin[high] = bins;
      while (low > high + 1 && weight[low - 1]! <= rest) low--;
      let partner = -1;
      for (let k = Math.max(low, high + 1); k < size; k++) {
        const v = weight[k]!;
        if (v < rest - waste) break;
        if (bin[k] !== 0 || v > rest || v === partner) continue;
        partner = v;
        bin[k] = bins;
        if (this.#next(lead + 1, bins - 1, waste - rest + v, spare)) return true;
        bin[k] = 0;
        if (this.#nodes < 0) break;
      }
      const alone = partner < 0 && rest <= waste && this.#nodes >= 0 && this.#lightest() > rest;
      if (alone && this.#next(lead + 1, bins - 1, waste - rest, spare)) return true;
      bin[high] = 0;
      if (this.#nodes < 0) return false;
      // No rail from here on fills it.
      if (2 * w < room - waste) break;
    }
    // A rail that still fits may as well be there.
    return room <= waste && this.#lightest() > room && this.#next(lead + 1, bins - 1, waste - room, spare);
  }

  /** Weight of the lightest rail in no bin; Infinity where there is none. */
  #lightest(): number {
    for (let k = this.#size - 1; k >= 0; k--) if (this.#bin[k] === 0) return this.#weight[k]!;
    return Infinity;
  }

  #reach(): void {
    const [weight, size, words] = [this.#weight, this.#size, wordsOf(this.#capacity)];
    if (this.#rows.length < (size + 1) * words) this.#rows = new Int32Array((MOST_RAILS + 1) * words);
    const rows = this.#rows;
    rows.fill(0, size * words, (size + 1) * words);
    rows[size * words] = 1;
    for (let k = size - 1; k >= 0; k--) addRail(rows, k * words, (k + 1) * words, words, weight[k]!);
    this.#reached = true;
  }
}
