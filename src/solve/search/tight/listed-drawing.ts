import type { Instance } from '../../instance/instance.js';
import type { Watch } from '../../instance/watch.js';
import { coverOf } from './cover.js';
import { ListedShares, type ListedState } from './listed-shares.js';
import type { EvenShares, SharesState } from './shares.js';

/** Shares from which on fillings are listed: of all rails, and of fewer. */
const LEAST_SHARE = 1e-3;
const LEAST_OF_FEWER = 3e-4;
/** Passes over the table before a list is made of fewer rails, over a list at first, and before each stick is taken. */
const TABLE_PASSES = 4;
const FIRST_PASSES = 20;
const PASSES = 3;
/** Share of the rails a list is made of, from which on it is made anew. */
const WORN = 0.7;
/** By how much, at most, chance moves the logarithm of a share. */
const STIR = 0.1;
/** Rails at which the drawing is worth many tries, at most, and share of all. */
const MIDDLE = 200;
const MIDDLE_OF_ALL = 0.5;
/** Tries from there: for as many plans as usual, the fewest and the most. */
const TRIES = 10;
const FEWEST_TRIES = 3;
const MOST_TRIES = 40;
/** Rails that are left to exact search, and fillings that it looks at; where they have too many fillings, ever fewer, down to so many. */
const REST = 90;
const REST_LOOKS = 1_000_000;
const SMALLER = 0.8;
const LEAST_REST = 20;

type DrawnSticks = (readonly number[])[];

/**
 * Plans drawn from listed fillings (`listed-shares.ts`): stick by stick the one with the largest share is taken and the
 * shares are set right. As rails become fewer the list is made anew by the table. From half of the rails on it is drawn
 * several times, more often the more plans are left there by Bethe's approximation; the last rails are covered exactly
 * (`cover.ts`).
 */
export class ListedDrawing {
  private top: { readonly shares: ListedShares; readonly state: ListedState } | null = null;
  /** ln of the numbers of plans in the middle, summed, and how often. */
  private met = { sum: 0, count: 0 };

  constructor(
    private readonly instance: Instance,
    private readonly shares: EvenShares,
    private readonly random: () => number,
  ) {}

  /** Rails of each stick. */
  run(first: SharesState, watch: Watch): DrawnSticks | null {
    if (!this.top) {
      const shares = this.list(first, 0, LEAST_SHARE, watch);
      if (!shares) return null;
      this.top = { shares, state: shares.state };
    }
    let { shares } = this.top;
    shares.restart(this.top.state);
    const middle = Math.max(REST, Math.min(MIDDLE, Math.floor(MIDDLE_OF_ALL * shares.rails)));
    const taken: DrawnSticks = [];
    while (shares.rails > middle) {
      // A rail may have fillings that were not listed.
      const more = this.drawn(shares, Math.max(middle, Math.floor(WORN * shares.rails)), watch);
      const next = more.length > 0 ? this.list(shares, TABLE_PASSES, LEAST_OF_FEWER, watch) : null;
      if (!next) return null;
      taken.push(...more);
      shares = next;
    }
    const start = shares.state;
    for (let left = this.tries(shares.plans); left > 0 && !watch.over(); left--) {
      const more = this.closed(shares, watch);
      if (more) return [...taken, ...more];
      shares.restart(start);
    }
    return null;
  }

  /** Drawn until the rest is small enough for exact search; null where that finds nothing. */
  private closed(shares: ListedShares, watch: Watch): DrawnSticks | null {
    const taken: DrawnSticks = [];
    for (let rails = REST; rails >= LEAST_REST; rails = Math.floor(SMALLER * rails)) {
      taken.push(...this.drawn(shares, rails, watch));
      if (shares.rails > rails) return null;
      const rest = coverOf(this.instance, shares.demand, this.over(shares), REST_LOOKS, watch);
      if (rest !== undefined) return rest && [...taken, ...rest];
    }
    return null;
  }

  /** How often it is worth to go on, by ln of the number of plans. */
  private tries(plans: number): number {
    const { met } = this;
    met.sum += plans;
    met.count++;
    const likelier = Math.exp(plans - met.sum / met.count);
    return Math.round(Math.min(MOST_TRIES, Math.max(FEWEST_TRIES, TRIES * likelier)));
  }

  /** What the sticks left may leave over in all. */
  private over({ demand, sticks }: ListedShares): number {
    const { weight, largest } = this.instance;
    return demand.reduce((left, count, i) => left - count * weight[i]!, sticks * largest);
  }

  /** The fillings with at least this share of what is left there, settled; null where a rail has none. */
  private list(from: SharesState, passes: number, least: number, watch: Watch): ListedShares | null {
    const { shares } = this;
    shares.restart(from);
    const fillings = shares.settle(passes) ? shares.list(least) : null;
    const listed = fillings && new ListedShares(fillings, shares.state, shares.left, shares.over > 0, watch);
    return listed?.settle(FIRST_PASSES) ? listed : null;
  }

  /** Sticks drawn until so many rails are left, or one of them has no filling in the list. */
  private drawn(shares: ListedShares, rails: number, watch: Watch): DrawnSticks {
    const taken: DrawnSticks = [];
    while (shares.rails > rails) {
      const filling = !watch.over() && shares.settle(PASSES) ? shares.takeLargest(STIR, this.random) : null;
      if (!filling) break;
      taken.push(filling.items);
    }
    return taken;
  }
}
