import type { ScarceSums } from './scarce-sums.js';

/** Items that any number may be taken of, shortest first, none of them worth no more than a shorter one. */
export interface Steps {
  readonly item: Int32Array;
  readonly length: Int32Array;
  readonly worth: Float64Array;
  readonly count: number;
}

/**
 * The most that items are worth in each room up to half a piece. Only from sums that are worth more than every shorter one
 * items are added: long rails have few of these.
 */
export class HalfTable {
  /** By room. */
  readonly worth: Float64Array;
  /** By sum: the item taken last, or −2 less the node of a sum of scarce items, or −1. */
  private readonly last: Int32Array;
  /** Sums worth more than every shorter one, ascending. */
  readonly points: Int32Array;
  count = 0;

  constructor(private readonly half: number) {
    this.worth = new Float64Array(half + 1);
    this.last = new Int32Array(half + 1);
    this.points = new Int32Array(half + 1);
  }

  /** With any number of `steps`, beginning from `scarce` or from nothing; answers how many sums were made, Infinity for too many. */
  fill(steps: Steps, scarce: ScarceSums | null, most: number): number {
    const { half, worth, last, points } = this;
    worth.fill(-1);
    worth[0] = 0;
    last[0] = -1;
    if (scarce) {
      const { list } = scarce;
      for (let k = 1; k < list.count && list.length[k]! <= half; k++) {
        worth[list.length[k]!] = list.worth[k]!;
        last[list.length[k]!] = -2 - list.node[k]!;
      }
    }
    const { item, length, worth: gain, count: kinds } = steps;
    let count = 0;
    let made = 0;
    let top = -1;
    for (let room = 0; room <= half; room++) {
      const here = worth[room]!;
      if (here <= top) {
        worth[room] = top;
        continue;
      }
      top = here;
      points[count++] = room;
      let k = 0;
      for (; k < kinds; k++) {
        const to = room + length[k]!;
        if (to > half) break;
        const sum = here + gain[k]!;
        if (sum > worth[to]!) {
          worth[to] = sum;
          last[to] = item[k]!;
        }
      }
      made += k;
      if (made > most) return Infinity;
    }
    this.count = count;
    return made + half;
  }

  /** The place in `points` of the longest one of at most this room. */
  at(room: number): number {
    let [low, high] = [0, this.count - 1];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.points[middle]! <= room) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /** Counts the items that are worth most in this room into `held`. */
  hold(room: number, weight: Float64Array, scarce: ScarceSums | null, held: Map<number, number>): void {
    let left = this.points[this.at(room)]!;
    for (let i = this.last[left]!; i !== -1; i = this.last[left]!) {
      if (i < -1) {
        for (const s of scarce!.items(-2 - i)) held.set(s, (held.get(s) ?? 0) + 1);
        return;
      }
      held.set(i, (held.get(i) ?? 0) + 1);
      left -= weight[i]!;
    }
  }
}
