import type { Work } from '../instance/watch.js';
import type { PieceCover } from './covers.js';

/** Numbers of pieces of each group, and what they cost. */
export interface CountVector {
  readonly pieces: Float64Array;
  readonly cost: number;
}

/** What 0, 1, 2 … pieces of a group cost, for each goal so far: never less for more. */
export type CountCosts = readonly Float64Array[];

const MOST_NODES = 200_000;
const NODES_A_UNIT = 10;

/**
 * The cheapest numbers of pieces that satisfy covers, whatever curve a group's cost follows: depth-first over the
 * groups, bounded by each cover at the least price a piece. Exact, in whole numbers but for the bound, which has a margin.
 */
export class Counting {
  private readonly order: readonly number[];
  private readonly rates: Float64Array[];
  private readonly least: Float64Array;
  private readonly pieces: Float64Array;
  private readonly left: number[];
  private roof = Infinity;
  private best: CountVector | null = null;
  private nodes = 0;

  /** `costs[s]`: by goal, the last is to be least and the others are held to `limits`. */
  constructor(
    private readonly costs: readonly CountCosts[],
    private readonly limits: readonly number[],
    private readonly covers: readonly PieceCover[],
    /** No vector that is at most one of these in every group is an answer. */
    private readonly excluded: readonly Float64Array[],
    private readonly work: Work,
  ) {
    const goal = limits.length;
    this.least = Float64Array.from(costs, (own) => {
      const curve = own[goal]!;
      let rate = Infinity;
      for (let n = 1; n < curve.length; n++) rate = Math.min(rate, curve[n]! / n);
      return rate;
    });
    const first = covers[0];
    const rate = (s: number): number => this.least[s]! / Math.max(1, first?.worth[s] ?? 1);
    this.order = [...costs.keys()].sort((a, b) => rate(a) - rate(b) || a - b);
    // For each cover: the least cost a unit of its need, from the group at that place on.
    this.rates = covers.map(({ worth }) => {
      const list = new Float64Array(this.order.length + 1).fill(Infinity);
      for (let at = this.order.length - 1; at >= 0; at--) {
        const s = this.order[at]!;
        list[at] = Math.min(list[at + 1]!, worth[s]! > 0 ? this.least[s]! / worth[s]! : Infinity);
      }
      return list;
    });
    this.pieces = new Float64Array(costs.length);
    this.left = [...limits];
  }

  /** Null: there are none below `roof`; undefined: too many to look at. */
  cheapest(roof: number): CountVector | null | undefined {
    this.roof = roof;
    this.descend(
      0,
      0,
      this.covers.map(({ need }) => need),
      this.excluded,
    );
    this.work.spend(this.nodes / NODES_A_UNIT);
    return this.nodes > MOST_NODES ? undefined : this.best;
  }

  private beyond(cost: number): boolean {
    return cost > this.roof - 1 + 1e-6 * Math.max(1, cost * 1e-6);
  }

  /** The most pieces that cost no more than n of them, for any goal. */
  private level(s: number, n: number): number {
    const own = this.costs[s]!;
    let most = n;
    while (own.every((curve) => most + 1 < curve.length && curve[most + 1] === curve[n])) most++;
    return most;
  }

  /** `against`: the excluded vectors that the numbers chosen so far do not exceed. */
  private descend(
    at: number,
    cost: number,
    rests: readonly number[],
    against: readonly Float64Array[],
  ): void {
    if (++this.nodes > MOST_NODES || this.beyond(cost)) return;
    for (let c = 0; c < rests.length; c++) {
      if (rests[c]! > 0 && this.beyond(cost + rests[c]! * this.rates[c]![at]!)) return;
    }
    if (against.length === 0 && rests.every((rest) => rest <= 0)) {
      this.best = { pieces: this.pieces.slice(), cost };
      this.roof = cost;
      return;
    }
    const s = this.order[at];
    if (s === undefined) return;
    const own = this.costs[s]!;
    let top = 0;
    for (let c = 0; c < rests.length; c++) {
      const worth = this.covers[c]!.worth[s]!;
      if (rests[c]! > 0 && worth > 0) top = Math.max(top, Math.ceil(rests[c]! / worth));
    }
    for (const most of against) top = Math.max(top, most[s]! + 1);
    top = this.level(s, Math.min(top, own[0]!.length - 1));
    const goal = this.limits.length;
    for (let k = top; k >= 0; ) {
      const held = this.limits.every((_, g) => own[g]![k]! <= this.left[g]!);
      if (held) {
        this.pieces[s] = k;
        for (let g = 0; g < goal; g++) this.left[g]! -= own[g]![k]!;
        const next = rests.map((rest, c) => rest - k * this.covers[c]!.worth[s]!);
        const still = against.filter((most) => k <= most[s]!);
        this.descend(at + 1, cost + own[goal]![k]!, next, still);
        for (let g = 0; g < goal; g++) this.left[g]! += own[g]![k]!;
        this.pieces[s] = 0;
        if (this.nodes > MOST_NODES) return;
      }
      // Down to the most pieces of the next lower cost.
      const from = k;
      do k--;
      while (k >= 0 && own.every((curve) => curve[k] === curve[from]));
    }
  }
}
