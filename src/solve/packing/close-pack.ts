import { type Fill, fillOf } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';

/** Bins of one capacity: a segment of the pieces of one group. */
export interface BinType {
  readonly group: number;
  readonly segment: number;
  readonly capacity: number;
}

/** Fillings of one bin type, with how often each is cut. */
export interface Filling {
  readonly type: BinType;
  readonly fill: Fill;
  readonly times: number;
}

export interface Closed {
  readonly fillings: Filling[] | null;
  /** The nodes ran out, so null proves nothing. */
  readonly cut: boolean;
  readonly nodes: number;
}

/**
 * Exact search for the last few bins: the heaviest item left goes into one of the bins that hold it, with any set of
 * others that wastes no more than the slack of all bins and leaves nothing out that would still fit; then the next bin
 * (bin completion; Martello and Toth 1990, Korf 2002).
 */
class Closing {
  private readonly items: number[] = [];
  private readonly left: number[];
  private readonly chosen: number[];
  private readonly fillings: Filling[] = [];
  private nodes: number;

  constructor(
    private readonly instance: Instance,
    rest: Int32Array,
    private readonly bins: readonly { readonly type: BinType; left: number }[],
    nodes: number,
  ) {
    this.nodes = nodes;
    for (let i = 0; i < instance.n; i++) if (rest[i]! > 0) this.items.push(i);
    this.left = this.items.map((i) => rest[i]!);
    this.chosen = this.items.map(() => 0);
  }

  run(slack: number): Closed {
    const given = this.nodes;
    const done = this.next(0, slack);
    return { fillings: done ? this.fillings : null, cut: this.nodes <= 0, nodes: given - this.nodes };
  }

  private next(from: number, slack: number): boolean {
    const { items, left, bins, instance } = this;
    let lead = from;
    while (lead < items.length && left[lead] === 0) lead++;
    if (lead === items.length) return true;
    const weight = instance.weight[items[lead]!]!;
    for (const bin of bins) {
      if (bin.left === 0 || bin.type.capacity < weight) continue;
      bin.left--;
      const saved = this.chosen.slice();
      this.chosen.fill(0);
      this.chosen[lead] = 1;
      left[lead]!--;
      let behind = 0;
      for (let p = lead; p < items.length; p++) behind += left[p]! * instance.weight[items[p]!]!;
      const done = this.fill(bin.type, lead, lead, bin.type.capacity - weight, behind, slack);
      left[lead]!++;
      for (let p = 0; p < saved.length; p++) this.chosen[p] = saved[p]!;
      bin.left++;
      if (done) return true;
      if (this.nodes <= 0) return false;
    }
    return false;
  }

  /** Continues the bin from place `at`; `behind`: weight of all items left from there on. */
  private fill(
    type: BinType,
    lead: number,
    at: number,
    room: number,
    behind: number,
    slack: number,
  ): boolean {
    if (--this.nodes <= 0 || room - behind > slack) return false;
    const { items, left, chosen, instance } = this;
    if (at === items.length) {
      if (room > slack || this.fits(lead, room)) return false;
      this.fillings.push({ type, fill: this.picture(), times: 1 });
      if (this.next(lead, slack - room)) return true;
      this.fillings.pop();
      return false;
    }
    const weight = instance.weight[items[at]!]!;
    const there = left[at]!;
    const most = Math.min(there, Math.floor(room / weight));
    for (let k = most; k >= 0; k--) {
      chosen[at]! += k;
      left[at]! -= k;
      const done = this.fill(type, lead, at + 1, room - k * weight, behind - there * weight, slack);
      chosen[at]! -= k;
      left[at]! += k;
      if (done) return true;
      if (this.nodes <= 0) return false;
    }
    return false;
  }

  private fits(lead: number, room: number): boolean {
    for (let p = this.items.length - 1; p >= lead; p--) {
      if (this.left[p]! > 0) return this.instance.weight[this.items[p]!]! <= room;
    }
    return false;
  }

  private picture(): Fill {
    const counts = new Int32Array(this.instance.n);
    for (let p = 0; p < this.items.length; p++) counts[this.items[p]!] = this.chosen[p]!;
    return fillOf(counts);
  }
}

export function closePack(
  instance: Instance,
  rest: Int32Array,
  bins: readonly { readonly type: BinType; readonly left: number }[],
  slack: number,
  nodes: number,
): Closed {
  return new Closing(
    instance,
    rest,
    bins.map((bin) => ({ ...bin })),
    nodes,
  ).run(slack);
}
