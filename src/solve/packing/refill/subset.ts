/**
 * Which of a few rails fill a room best: sums of all subsets of each half, sorted, one list run through against the other
 * (Horowitz and Sahni 1974). In JavaScript only where there is no WebAssembly, to the same answers.
 */
import { MOST_OF_HALF, type Summing, summing } from './best-sum.js';

/** Most rails looked at together. */
export const MOST_TOGETHER = 2 * MOST_OF_HALF;

/** Sums merged or compared in a unit of work. */
const SUMS_A_UNIT = 250;

class Half {
  sums = new Float64Array(2 ** MOST_OF_HALF);
  taken = new Int32Array(2 ** MOST_OF_HALF);
  #spareSums = new Float64Array(2 ** MOST_OF_HALF);
  #spareTaken = new Int32Array(2 ** MOST_OF_HALF);
  size = 0;

  /** All sums of `count` weights from place `from` on, in order. */
  fill(weights: Float64Array, from: number, count: number): void {
    let [sums, taken, otherSums, otherTaken] = [this.sums, this.taken, this.#spareSums, this.#spareTaken];
    sums[0] = 0;
    taken[0] = 0;
    let size = 1;
    for (let e = 0; e < count; e++) {
      const weight = weights[from + e]!;
      const bit = 1 << e;
      let [without, withIt] = [0, 0];
      for (let k = 0; k < 2 * size; k++) {
        if (without < size && sums[without]! <= sums[withIt]! + weight) {
          otherSums[k] = sums[without]!;
          otherTaken[k] = taken[without++]!;
        } else {
          otherSums[k] = sums[withIt]! + weight;
          otherTaken[k] = taken[withIt++]! | bit;
        }
      }
      [sums, taken, otherSums, otherTaken] = [otherSums, otherTaken, sums, taken];
      size *= 2;
    }
    this.sums = sums;
    this.taken = taken;
    this.#spareSums = otherSums;
    this.#spareTaken = otherTaken;
    this.size = size;
  }
}

export class Subset {
  readonly #summing: Summing | null;
  #halves: readonly [Half, Half] | null = null;
  #lowCount = 0;
  #lowTaken = 0;
  #highTaken = 0;
  /** Units of work done so far. */
  spent = 0;

  constructor(quick: Summing | null = summing()) {
    this.#summing = quick;
  }

  /** The greatest sum of some of the first `count` weights (at most 22) that is not above `room`. */
  best(weights: Float64Array, count: number, room: number): number {
    this.#lowCount = count >> 1;
    this.spent += (3 * (2 ** this.#lowCount + 2 ** (count - this.#lowCount))) / SUMS_A_UNIT;
    if (this.#summing === null) return this.#bestPlainly(weights, count, room);
    const { weights: own, taken, best } = this.#summing;
    for (let e = 0; e < count; e++) own[e] = weights[e]!;
    const sum = best(this.#lowCount, count, room);
    this.#lowTaken = taken[0]!;
    this.#highTaken = taken[2]!;
    return sum;
  }

  #bestPlainly(weights: Float64Array, count: number, room: number): number {
    this.#halves ??= [new Half(), new Half()];
    const [low, high] = this.#halves;
    low.fill(weights, 0, this.#lowCount);
    high.fill(weights, this.#lowCount, count - this.#lowCount);
    const [lows, highs] = [low.sums, high.sums];
    let [best, a, b] = [-1, 0, 0];
    let partner = high.size - 1;
    for (let k = 0; k < low.size; k++) {
      const left = room - lows[k]!;
      if (left < 0) break;
      while (highs[partner]! > left) partner--;
      const sum = lows[k]! + highs[partner]!;
      if (sum > best) [best, a, b] = [sum, k, partner];
    }
    this.#lowTaken = low.taken[a]!;
    this.#highTaken = high.taken[b]!;
    return best;
  }

  /** Whether the sum found last holds the weight at that place. */
  holds(place: number): boolean {
    const low = place < this.#lowCount;
    return (
      (((low ? this.#lowTaken >> place : this.#highTaken >> (place - this.#lowCount)) & 1) as 0 | 1) === 1
    );
  }
}
