import type { Work } from '../../instance/watch.js';
import type { Drawn } from './likely.js';

/** Where a drawing goes on from. */
export interface ListedState {
  readonly ways: Int32Array;
  readonly lengths: Int32Array;
  readonly alive: Uint8Array;
  readonly demand: Int32Array;
  readonly share: Float64Array;
  readonly factor: Float64Array;
  readonly rails: number;
  readonly sticks: number;
}

/** Entries of fillings that are looked at for a unit of work. */
const ENTRIES_A_UNIT = 500;
/** Shares and factors beyond these are numbers no more. */
const LEAST = 1e-200;
const MOST = 1e200;

/**
 * Even shares (`shares.ts`) over listed fillings alone: few of all 10^8 have nearly all of the share, and setting these right
 * takes a hundredth of the time that the table takes. Where a filling holds an item several times, its factor is set right
 * by a root (generalised iterative scaling; Darroch and Ratcliff 1972).
 */
export class ListedShares {
  /** What is still needed of each item, and in all; sticks that are left to fill. */
  readonly demand: Int32Array;
  rails: number;
  sticks: number;
  readonly factor: Float64Array;
  private readonly share: Float64Array;
  private readonly alive: Uint8Array;
  /** Rails of each filling, one after the other. */
  private readonly starts: Int32Array;
  private readonly held: Int32Array;
  /** Fillings of each item, as often as they hold it; those out of use are taken out as they are met. */
  private readonly firsts: Int32Array;
  private readonly lengths: Int32Array;
  private readonly ways: Int32Array;
  /** How often a filling holds an item at most. */
  private readonly most: Uint8Array;

  /** `loose`: sticks may leave something over, so that their number has to be set right, too. */
  constructor(
    private readonly fillings: readonly Drawn[],
    { factor, demand }: { readonly factor: Float64Array; readonly demand: Int32Array },
    sticks: number,
    private readonly loose: boolean,
    private readonly work: Work,
  ) {
    const n = demand.length;
    this.demand = demand.slice();
    this.rails = demand.reduce((sum, d) => sum + d, 0);
    this.sticks = sticks;
    this.factor = factor.slice();
    this.share = Float64Array.from(fillings, ({ share }) => share);
    this.alive = new Uint8Array(fillings.length).fill(1);
    this.starts = new Int32Array(fillings.length + 1);
    fillings.forEach(({ items }, j) => {
      this.starts[j + 1] = this.starts[j]! + items.length;
    });
    this.held = new Int32Array(this.starts[fillings.length]!);
    this.lengths = new Int32Array(n);
    this.most = new Uint8Array(n);
    fillings.forEach(({ items }, j) => {
      this.held.set(items, this.starts[j]);
      for (const i of items) {
        this.lengths[i]!++;
        this.most[i] = Math.max(this.most[i]!, items.filter((other) => other === i).length);
      }
    });
    this.firsts = new Int32Array(n);
    for (let i = 1; i < n; i++) this.firsts[i] = this.firsts[i - 1]! + this.lengths[i - 1]!;
    this.ways = new Int32Array(this.held.length);
    const at = this.firsts.slice();
    fillings.forEach(({ items }, j) => {
      for (const i of items) this.ways[at[i]!++] = j;
    });
  }

  get state(): ListedState {
    const { ways, lengths, alive, demand, share, factor, rails, sticks } = this;
    return {
      ways: ways.slice(),
      lengths: lengths.slice(),
      alive: alive.slice(),
      demand: demand.slice(),
      share: share.slice(),
      factor: factor.slice(),
      rails,
      sticks,
    };
  }

  restart({ ways, lengths, alive, demand, share, factor, rails, sticks }: ListedState): void {
    this.ways.set(ways);
    this.lengths.set(lengths);
    this.alive.set(alive);
    this.demand.set(demand);
    this.share.set(share);
    this.factor.set(factor);
    this.rails = rails;
    this.sticks = sticks;
    this.spend(this.ways.length);
  }

  /** Sets all factors right, one after the other, so many times; false where a rail has no filling left, nearly. */
  settle(passes: number): boolean {
    for (let k = 0; k < passes; k++) if (!this.pass()) return false;
    return true;
  }

  private pass(): boolean {
    const { demand, firsts, lengths, ways, alive, share, factor, most } = this;
    let looked = 0;
    for (let i = 0; i < demand.length; i++) {
      if (demand[i] === 0) continue;
      const first = firsts[i]!;
      const end = first + lengths[i]!;
      let to = first;
      let sum = 0;
      for (let e = first; e < end; e++) {
        const j = ways[e]!;
        if (alive[j] === 0) continue;
        ways[to++] = j;
        sum += share[j]!;
      }
      lengths[i] = to - first;
      looked += end - first;
      if (!(sum > LEAST)) return false;
      const by = most[i]! > 1 ? (demand[i]! / sum) ** (1 / most[i]!) : demand[i]! / sum;
      factor[i] = factor[i]! * by;
      if (!(factor[i]! < MOST)) return false;
      for (let e = first; e < to; e++) share[ways[e]!] = share[ways[e]!]! * by;
    }
    this.spend(2 * looked);
    if (this.loose) this.evenOut();
    return true;
  }

  /** Sets the number of sticks right. */
  private evenOut(): void {
    const { share, alive, sticks } = this;
    let sum = 0;
    for (let j = 0; j < share.length; j++) sum += share[j]!;
    if (sum > 0)
      for (let j = 0; j < share.length; j++) if (alive[j] === 1) share[j] = (share[j]! * sticks) / sum;
    this.spend(2 * share.length);
  }

  /**
   * ln of about how many plans there are, in Bethe's approximation (Yedidia, Freeman and Weiss 2005), which counts that a
   * rail on one filling is on no other: Σ −x ln x + (k − 1)(1 − x) ln(1 − x) over fillings of k rails with the share x.
   */
  get plans(): number {
    const { share, starts, alive } = this;
    let sum = 0;
    for (let j = 0; j < share.length; j++) {
      const x = Math.min(1, share[j]!);
      if (alive[j] === 0 || x === 0) continue;
      const others = starts[j + 1]! - starts[j]! - 1;
      sum -= x * Math.log(x) - (x < 1 ? others * (1 - x) * Math.log1p(-x) : 0);
    }
    this.spend(4 * share.length);
    return sum;
  }

  /** Takes the filling of largest share, each share raised by up to the factor e^stir by chance; null where none is left. */
  takeLargest(stir: number, random: () => number): Drawn | null {
    const { share } = this;
    let best = -1;
    let largest = 0;
    for (let j = 0; j < share.length; j++) {
      const x = share[j]!;
      // Chance cannot make this one the largest.
      if (x * Math.exp(stir) <= largest) continue;
      const stirred = x * Math.exp(stir * random());
      if (stirred > largest) [best, largest] = [j, stirred];
    }
    this.spend(share.length);
    if (best < 0) return null;
    this.take(best);
    return this.fillings[best]!;
  }

  private take(taken: number): void {
    const { starts, held, demand, firsts, lengths, ways } = this;
    const [start, end] = [starts[taken]!, starts[taken + 1]!];
    for (let e = start; e < end; e++) demand[held[e]!]!--;
    this.rails -= end - start;
    this.sticks--;
    for (let e = start; e < end; e++) {
      const i = held[e]!;
      const first = firsts[i]!;
      for (let at = first, until = first + lengths[i]!; at < until; at++) {
        const j = ways[at]!;
        if (demand[i]! === 0 || this.countOf(j, i) > demand[i]!) this.shut(j);
      }
    }
  }

  private countOf(j: number, i: number): number {
    let count = 0;
    for (let e = this.starts[j]!; e < this.starts[j + 1]!; e++) if (this.held[e] === i) count++;
    return count;
  }

  private shut(j: number): void {
    this.alive[j] = 0;
    this.share[j] = 0;
  }

  private spend(entries: number): void {
    this.work.spend(entries / ENTRIES_A_UNIT);
  }
}
