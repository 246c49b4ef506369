import type { Instance } from '../instance/instance.js';
import { addRail, greatestSum, reaches, wordsOf } from './subset-sums.js';

/** Words of the table of sums at most: some hundred lengths on a stick of 10,000. */
const MOST_WORDS = 200_000;
/** Items are looked up by their weight. */
const LONGEST = 32_767;

/** Fills one bin at a time as full as the rails left allow, by subset sums instead of search. One bin size. */
export class FullBin {
  /** Rails left of each item. */
  readonly rest: Int32Array;
  readonly weight: Int32Array;
  /** The item of a weight; −1: none. */
  readonly of: Int16Array;
  /** Words passed through; whoever counts them sets them back. */
  words = 0;
  readonly #n: number;
  readonly #capacity: number;
  readonly #random: () => number;
  readonly #rows: Int32Array;
  readonly #live: Int32Array;

  static serves({ n, groups, largest, kinds, apart }: Instance): boolean {
    const [group] = groups;
    return (
      groups.length === 1 &&
      group!.segments.length === 1 &&
      !kinds &&
      !apart &&
      largest <= LONGEST &&
      (n + 1) * wordsOf(largest) <= MOST_WORDS
    );
  }

  constructor({ n, weight, largest }: Instance, random: () => number) {
    this.#n = n;
    this.#capacity = largest;
    this.#random = random;
    this.weight = Int32Array.from(weight);
    this.rest = new Int32Array(n);
    this.of = new Int16Array(largest + 1).fill(-1);
    for (let i = 0; i < n; i++) this.of[weight[i]!] = i;
    this.#rows = new Int32Array((n + 1) * wordsOf(largest));
    this.#live = new Int32Array(n);
  }

  /** The heaviest item left, from item `from` on; n where there is none. */
  lead(from: number): number {
    let lead = from;
    while (lead < this.#n && this.rest[lead] === 0) lead++;
    return lead;
  }

  /** Length of the rails left. */
  left(): number {
    let left = 0;
    for (let i = 0; i < this.#n; i++) left += this.rest[i]! * this.weight[i]!;
    return left;
  }

  /**
   * Takes the rail `lead`, the heaviest left, and those that fill the bin best, the heaviest first; adds them to `filled`,
   * by weight, and answers what the bin wastes. `stray`: how often another number of an item than the most is tried.
   */
  fill(lead: number, filled: number[], stray: number): number {
    const [rest, weight, of] = [this.rest, this.weight, this.of];
    rest[lead]!--;
    filled.push(lead);
    const room = this.#capacity - weight[lead]!;
    if (stray === 0) {
      // One or two rails that fill it to the end, if there are.
      for (let i = lead; i < this.#n && 2 * weight[i]! >= room; i++) {
        if (rest[i]! === 0 || weight[i]! > room) continue;
        const other = room - weight[i]!;
        if (other === 0) {
          rest[i]!--;
          filled.push(i);
          return 0;
        }
        const j = of[other]!;
        if (j < 0 || rest[j]! < (j === i ? 2 : 1)) continue;
        rest[i]!--;
        rest[j]!--;
        filled.push(i, j);
        return 0;
      }
    }
    return this.#fillBest(lead, room, filled, stray);
  }

  #fillBest(lead: number, room: number, filled: number[], stray: number): number {
    const [rest, weight, rows, live] = [this.rest, this.weight, this.#rows, this.#live];
    let size = 0;
    for (let i = lead; i < this.#n; i++) if (rest[i]! > 0 && weight[i]! <= room) live[size++] = i;
    if (size === 0) return room;
    const words = wordsOf(room);
    rows.fill(0, size * words, (size + 1) * words);
    rows[size * words] = 1;
    for (let k = size - 1; k >= 0; k--) {
      const i = live[k]!;
      const w = weight[i]!;
      const row = k * words;
      const copies = Math.min(rest[i]!, Math.floor(room / w));
      addRail(rows, row, row + words, words, w);
      for (let c = 1; c < copies; c++) addRail(rows, row, row, words, w);
      this.words += words * copies;
    }
    const sum = greatestSum(rows, 0, room);
    for (let k = 0, left = sum; left > 0; k++) {
      const i = live[k]!;
      const w = weight[i]!;
      const most = Math.min(rest[i]!, Math.floor(left / w));
      const next = (k + 1) * words;
      let copies =
        most > 0 && stray > 0 && this.#random() < stray ? Math.floor(this.#random() * (most + 1)) : most;
      // From the number wished for upwards, then downwards.
      const wished = copies;
      while (copies <= most && !reaches(rows, next, left - copies * w)) copies++;
      if (copies > most) copies = wished - 1;
      while (copies >= 0 && !reaches(rows, next, left - copies * w)) copies--;
      for (let c = 0; c < copies; c++) filled.push(i);
      rest[i]! -= copies;
      left -= copies * w;
    }
    return room - sum;
  }
}
