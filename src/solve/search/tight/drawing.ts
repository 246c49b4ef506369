import { type Column, type Cutting, columnOf, trim } from '../../columns/columns.js';
import type { SearchGoal } from '../../instance/goal.js';
import type { Instance } from '../../instance/instance.js';
import type { Watch } from '../../instance/watch.js';
import type { LpFactory } from '../../lp/lp.js';
import { PairSearch } from '../branch.js';
import type { BranchAnswer } from '../listed.js';
import type { Drawn } from './likely.js';
import { partOf } from './part.js';
import { EvenShares, type SharesState } from './shares.js';

/** How a plan is drawn. */
interface Manner {
  /** Passes over all rails before the first stick is taken, and after each time some were. */
  readonly first: number;
  readonly passes: number;
  /** Share of the sticks left that is taken at a time. */
  readonly taken: number;
  /** Whether all fillings with large shares are listed, or some drawn. */
  readonly listed: boolean;
  /** How many ways each stretch is gone, from the second try on. */
  readonly ways: number;
  /** How many rails are left to the search over pairs, and for how many nodes: first the most. */
  readonly rests: readonly { readonly rails: number; readonly nodes: number }[];
}

/** Where plans abound, and where they are few: carefully, and until what is left has hardly one; after some tries more carefully still. */
const ABOUNDING: Manner = {
  first: 8,
  passes: 1,
  taken: 0.12,
  listed: false,
  ways: 1,
  rests: [{ rails: 75, nodes: 60 }],
};
const SPARSE: Manner = {
  first: 40,
  passes: 2,
  taken: 0.02,
  listed: false,
  ways: 1,
  rests: [{ rails: 140, nodes: 100 }],
};
const CAREFUL: Manner = {
  first: 40,
  passes: 2,
  taken: 0.03,
  listed: true,
  ways: 3,
  rests: [
    { rails: 140, nodes: 40 },
    { rails: 105, nodes: 60 },
    { rails: 75, nodes: 60 },
  ],
};
/** ln of the number of plans for each stick, from which they abound, and below which there is likely none. */
const MANY_PLANS = 0.3;
const HARDLY_ANY = -0.5;
/** ln of the number of plans of a rest below which it is given up, once it has so small a part of the rails. */
const HOPELESS = -18;
const LATE = 0.6;
/** Cells of the table of shares, at most: 270 MB. */
const MOST_CELLS = 34_000_000;
/** Fillings drawn at a time. */
const DRAWS = 200;
/** Tries where plans are sparse, then as many with all large shares listed, and so on. */
const IN_TURN = 6;
/** Shares from which on fillings are listed: to begin with, so many for each that is taken; and at the least. */
const LARGE_SHARE = 0.25;
const CHOICE = 3;
const LEAST_SHARE = 0.02;
/** By how much, at most, chance moves the logarithm of a share. */
const STIR = 0.15;
/** Share of the rails that a stretch takes, and ways tried where every one before meets a rail without a filling. */
const STRETCH = 0.1;
const MOST_WAYS = 6;

/** A stretch of drawing: ln of about how many plans are left after it, what it took and where it ended. */
interface Stretch {
  readonly plans: number;
  readonly fillings: readonly Drawn[];
  readonly end: SharesState;
}

/**
 * Plans drawn stick by stick from even shares: the fillings with the largest shares are taken, so that what is left can be
 * made in as many ways as possible, then the shares are set right for what is left (decimation by marginals; Montanari,
 * Ricci-Tersenghi and Semerjian 2007). Where plans abound some fillings are drawn to choose from, where they are sparse
 * all with large shares are listed. The last rails are left to the search over pairs.
 */
export class PlanDrawing {
  private readonly shares: EvenShares;
  /** Where each try begins, once there was one. */
  private first: SharesState | null = null;
  private manner: Manner;
  private tries = 0;
  readonly hope: 'plans abound' | 'sparse' | 'hardly any';

  constructor(
    private readonly factories: readonly LpFactory[],
    private readonly instance: Instance,
    private readonly goal: SearchGoal,
    private readonly random: () => number,
    watch: Watch,
  ) {
    const shares = new EvenShares(instance, watch);
    this.shares = shares;
    const sound = shares.settle(ABOUNDING.first);
    const rate = sound ? shares.plans / shares.left : -Infinity;
    this.hope = rate >= MANY_PLANS ? 'plans abound' : rate > HARDLY_ANY ? 'sparse' : 'hardly any';
    this.manner = rate >= MANY_PLANS ? ABOUNDING : SPARSE;
  }

  /** Whether the table of shares fits. */
  static serves({ n, largest }: Instance): boolean {
    return (n + 2) * (largest + 1) <= MOST_CELLS;
  }

  /** One plan tried for. */
  run(watch: Watch): Cutting[] | null {
    const { shares } = this;
    if (!this.first) {
      if (!shares.settle(this.manner.first - ABOUNDING.first)) return null;
      this.first = shares.state;
    }
    if (this.hope === 'sparse') this.manner = this.tries % (2 * IN_TURN) < IN_TURN ? SPARSE : CAREFUL;
    const { manner } = this;
    this.tries++;
    shares.restart(this.first);
    const taken: Drawn[] = [];
    for (const { rails, nodes } of manner.rests) {
      if (!this.drawn(rails, taken, watch)) return null;
      const answer = this.rest(taken, nodes, watch);
      if (answer.plan || answer.status === 'infeasible') return answer.plan;
    }
    return null;
  }

  /**
   * Takes fillings until so many rails are left; false where there is likely no plan for what is left. From the second try on
   * every stretch is gone several ways, and on from where most plans are left.
   */
  private drawn(rails: number, taken: Drawn[], watch: Watch): boolean {
    const { shares, manner, instance } = this;
    while (shares.rails > rails) {
      const least = manner.listed ? Math.max(rails, Math.floor(shares.rails * (1 - STRETCH))) : rails;
      const start = shares.state;
      let best: Stretch | null = null;
      const most = manner.listed ? MOST_WAYS : 1;
      for (let way = 0; (way < manner.ways || (!best && way < most)) && !watch.over(); way++) {
        if (way > 0) shares.restart(start);
        const fillings = this.stretch(least, watch);
        if (!fillings || (manner.listed && !shares.settle(manner.passes))) continue;
        const plans = manner.listed ? shares.plansBy(LEAST_SHARE) : 0;
        if (!best || plans > best.plans) best = { plans, fillings, end: shares.state };
      }
      if (!best || (best.plans < HOPELESS && shares.rails < LATE * instance.n)) return false;
      if (manner.listed) shares.restart(best.end);
      taken.push(...best.fillings);
    }
    return true;
  }

  /** Fillings taken one after the other until so many rails are left; null where there is none. */
  private stretch(rails: number, watch: Watch): Drawn[] | null {
    const { shares, manner } = this;
    const taken: Drawn[] = [];
    while (shares.rails > rails) {
      if (watch.over() || !shares.settle(manner.passes)) return null;
      const most = Math.max(1, Math.floor(manner.taken * shares.left));
      const fillings = shares.take(this.choice(most), most);
      if (fillings.length === 0) return null;
      taken.push(...fillings);
    }
    return taken;
  }

  /** Fillings to take from. */
  private choice(most: number): Drawn[] {
    const { shares, manner, random } = this;
    if (!manner.listed) return shares.draw(DRAWS, random);
    for (let least = LARGE_SHARE; ; least /= 2) {
      const listed = shares.list(least);
      if (!listed) return [];
      if (listed.length >= CHOICE * most || least < LEAST_SHARE)
        return listed.map(({ items, share }) => ({ items, share: share * Math.exp(STIR * random()) }));
    }
  }

  /** The search over pairs of what is left. */
  private rest(taken: readonly Drawn[], nodes: number, watch: Watch): BranchAnswer {
    const { instance, goal, factories, shares } = this;
    const part = partOf(instance, shares.demand);
    const search = new PairSearch(factories, part.instance, goal, [], shares.left * goal.cost[0]!, watch);
    const { status, plan } = search.run(watch, nodes);
    search.dispose();
    if (!plan) return { status, plan };
    const rest = trim(part.instance, plan);
    return {
      status,
      plan: [
        ...taken.map(({ items }) => ({ column: columnWith(instance, items), times: 1 })),
        ...rest.map(({ column, times }) => ({ column: part.outward(column), times })),
      ],
    };
  }
}

function columnWith({ n }: Instance, rails: readonly number[]): Column {
  const counts = new Map<number, number>();
  for (const i of rails) counts.set(i, (counts.get(i) ?? 0) + 1);
  const items = Int32Array.from(counts.keys()).sort();
  return columnOf(n, 0, [{ items, counts: Int32Array.from(items, (i) => counts.get(i)!) }]);
}
