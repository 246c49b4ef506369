import { commonStep, type Instance } from '../instance/instance.js';

/** Rails on one piece up to which all numbers are looked at. */
const MOST_RAILS = 60;
/** Steps that are finer than this, in lengths of the largest piece, say nothing. */
const FINEST = 1e-5;

/**
 * Rails are so many stop steps and a constant, so that what a full piece wastes at least hangs on how many rails it holds
 * alone: (C − m·c) mod step. Which numbers of rails waste least, mixed to make a mean.
 */
export class RailCounts {
  private readonly least = new Map<number, Float64Array>();

  private constructor(
    private readonly step: number,
    private readonly constant: number,
    private readonly shortest: number,
  ) {}

  /** Null where weights stand on no common step. */
  static of({ weight, n, largest, kinds }: Instance): RailCounts | null {
    if (kinds || n < 3) return null;
    const step = commonStep([...weight], Math.max(8, FINEST * largest));
    if (step === 0) return null;
    // The mean of the constants, counted from that of the lightest.
    const first = weight[n - 1]! % step;
    let sum = 0;
    for (const w of weight) {
      const apart = (w % step) - first;
      sum += apart - Math.round(apart / step) * step;
    }
    return new RailCounts(step, first + sum / n, weight[n - 1]!);
  }

  /** By number of rails: what a piece of this capacity wastes at least, 0 rails on. */
  wastes(capacity: number): Float64Array {
    const known = this.least.get(capacity);
    if (known) return known;
    const { step, constant, shortest } = this;
    const most = Math.min(MOST_RAILS, Math.floor(capacity / shortest));
    const list = Float64Array.from({ length: most + 1 }, (_, m) => {
      // Weights are rounded to whole numbers: half of one for each rail.
      const doubt = Math.min(step / 3, 1 + m / 2);
      const rest = capacity - m * constant + doubt;
      return m === 0 ? capacity : Math.max(0, rest - Math.floor(rest / step) * step - doubt);
    });
    this.least.set(capacity, list);
    return list;
  }

  /** The two numbers of rails between which `mean` lies on the lower hull of the wastes, and what they waste together. */
  private between(capacity: number, mean: number): { low: number; high: number; waste: number } {
    const wastes = this.wastes(capacity);
    const top = wastes.length - 1;
    let [low, high, waste] = [0, 0, Infinity];
    const from = Math.max(1, Math.floor(mean / 2));
    const to = Math.min(top, Math.ceil(mean * 2));
    for (let a = from; a <= to && a <= mean; a++) {
      for (let b = Math.max(a, Math.ceil(mean)); b <= to; b++) {
        const share = b === a ? 0 : (mean - a) / (b - a);
        const both = wastes[a]! + share * (wastes[b]! - wastes[a]!);
        if (both < waste) [low, high, waste] = [a, b, both];
      }
    }
    return { low, high, waste };
  }

  /** What pieces of this capacity waste on average at least, where `mean` rails fill one; Infinity where that is not known. */
  leastWaste(capacity: number, mean: number): number {
    return this.between(capacity, mean).waste;
  }

  /** How many rails to put on a piece, drawn so that the mean stays and as little as can be is wasted. */
  draw(capacity: number, mean: number, random: () => number): number {
    const { low, high, waste } = this.between(capacity, mean);
    if (waste === Infinity) return Math.max(1, Math.min(this.wastes(capacity).length - 1, Math.round(mean)));
    return high > low && random() * (high - low) < mean - low ? high : low;
  }

  get unit(): number {
    return this.step;
  }
}
