import type { Instance } from '../../instance/instance.js';

/** A filling: its rails, by item, and its share. */
export interface Drawn {
  readonly items: readonly number[];
  readonly share: number;
}

/** All fillings together, after a pass upward over the shares (`shares.ts`). */
export interface WeighedFillings {
  /** Row k: what items from the k-th on weigh that fill the rest of a stick, by the length used. */
  readonly table: Float64Array;
  readonly width: number;
  /** Items still needed, in order. */
  readonly items: readonly number[];
  readonly demand: Int32Array;
  readonly factor: Float64Array;
  /** Factor of a unit of length left over, and how much may be left. */
  readonly overFactor: number;
  readonly over: number;
}

/** Fillings listed at most. */
const MOST_LISTED = 20_000;

/**
 * Every filling whose factors come to at least `least`: from the longest rail on, as long as all fillings that can follow
 * come to as much together. Answers them with what their factors come to, and the cells looked at.
 */
export function likelyFillings(
  instance: Instance,
  weighed: WeighedFillings,
  least: number,
): { readonly fillings: Drawn[]; readonly looked: number } {
  const listing = new Listing(instance.weight, weighed, least);
  return { fillings: listing.fillings, looked: listing.looked };
}

class Listing {
  readonly fillings: Drawn[] = [];
  looked = 0;
  private readonly stack: number[] = [];

  constructor(
    private readonly weight: Float64Array,
    private readonly weighed: WeighedFillings,
    private readonly least: number,
  ) {
    this.from(0, 0, 1);
  }

  /** Fillings that go on with the k-th item or later ones. */
  private from(k: number, used: number, share: number): void {
    const { weight, weighed, least, stack } = this;
    const { table, width, items, demand, factor, over, overFactor } = weighed;
    const room = width - 1 - used;
    if (room <= over && stack.length > 0) {
      if (this.fillings.length >= MOST_LISTED) return;
      const whole = share * overFactor ** room;
      if (whole >= least) this.fillings.push({ items: stack.slice(), share: whole });
      if (room === 0) return;
    }
    for (let j = k; j < items.length; j++) {
      this.looked++;
      if (share * table[j * width + used]! < least) return;
      const i = items[j]!;
      const to = used + weight[i]!;
      if (to >= width) continue;
      let count = 1;
      for (const held of stack) if (held === i) count++;
      if (count > demand[i]!) continue;
      const next = count < demand[i]! ? j : j + 1;
      const more = share * factor[i]!;
      if (more * table[next * width + to]! < least) continue;
      stack.push(i);
      this.from(next, to, more);
      stack.pop();
    }
  }
}
