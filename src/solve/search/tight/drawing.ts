import { type Column, type Cutting, columnOf, trim } from '../../columns/columns.js';
import type { SearchGoal } from '../../instance/goal.js';
import type { Instance } from '../../instance/instance.js';
import type { Watch } from '../../instance/watch.js';
import type { LpFactory } from '../../lp/lp.js';
import { PairSearch } from '../branch.js';
import type { Drawn } from './likely.js';
import { ListedDrawing } from './listed-drawing.js';
import { partOf } from './part.js';
import { EvenShares, type SharesState } from './shares.js';

/** Passes over all rails before the first stick is taken; more where plans are sparse. */
const PASSES = 8;
const SPARSE_PASSES = 40;
/** Share of the sticks left that is taken at a time. */
const TAKEN = 0.12;
/** How many rails are left to the search over pairs, and for how many nodes. */
const REST = 75;
const REST_NODES = 60;
/** ln of the number of plans for each stick, from which they abound, and below which there is likely none. */
const MANY_PLANS = 0.3;
const HARDLY_ANY = -0.5;
/** Cells of the table of shares, at most: 270 MB. */
const MOST_CELLS = 34_000_000;
/** Fillings drawn at a time. */
const DRAWS = 200;

/**
 * Plans drawn stick by stick from even shares: the fillings with the largest shares are taken, so that what is left can be
 * made in as many ways as possible, then the shares are set right for what is left (decimation by marginals; Montanari,
 * Ricci-Tersenghi and Semerjian 2007). Where plans abound some fillings are drawn to choose from, and the last rails are
 * left to the search over pairs; where they are sparse all with large shares are listed (`listed-drawing.ts`).
 */
export class PlanDrawing {
  private readonly shares: EvenShares;
  /** Where each try begins, once there was one. */
  private first: SharesState | null = null;
  private readonly listed: ListedDrawing | null;
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
    const sound = shares.settle(PASSES);
    const rate = sound ? shares.plans / shares.left : -Infinity;
    this.hope = rate >= MANY_PLANS ? 'plans abound' : rate > HARDLY_ANY ? 'sparse' : 'hardly any';
    this.listed = this.hope === 'sparse' ? new ListedDrawing(instance, shares, random) : null;
  }

  /** Whether the table of shares fits. */
  static serves({ n, largest }: Instance): boolean {
    return (n + 2) * (largest + 1) <= MOST_CELLS;
  }

  /** One plan tried for; where plans are sparse that is quick, and worth many tries. */
  run(watch: Watch): Cutting[] | null {
    const { shares, listed } = this;
    if (!this.first) {
      if (listed && !shares.settle(SPARSE_PASSES - PASSES)) return null;
      this.first = shares.state;
    }
    if (listed) return this.cuttings(listed.run(this.first, watch) ?? []);
    shares.restart(this.first);
    const taken: Drawn[] = [];
    while (shares.rails > REST) {
      if (watch.over() || !shares.settle(1)) return null;
      const most = Math.max(1, Math.floor(TAKEN * shares.left));
      const fillings = shares.take(shares.draw(DRAWS, this.random), most);
      if (fillings.length === 0) return null;
      taken.push(...fillings);
    }
    return this.rest(taken, watch);
  }

  /** Null for no sticks. */
  private cuttings(sticks: readonly (readonly number[])[]): Cutting[] | null {
    if (sticks.length === 0) return null;
    return sticks.map((items) => ({ column: columnWith(this.instance, items), times: 1 }));
  }

  /** The search over pairs of what is left. */
  private rest(taken: readonly Drawn[], watch: Watch): Cutting[] | null {
    const { instance, goal, factories, shares } = this;
    const part = partOf(instance, shares.demand);
    const search = new PairSearch(factories, part.instance, goal, [], shares.left * goal.cost[0]!, watch);
    const { plan } = search.run(watch, REST_NODES);
    search.dispose();
    if (!plan) return null;
    const rest = trim(part.instance, plan);
    return [
      ...taken.map(({ items }) => ({ column: columnWith(instance, items), times: 1 })),
      ...rest.map(({ column, times }) => ({ column: part.outward(column), times })),
    ];
  }
}

function columnWith({ n }: Instance, rails: readonly number[]): Column {
  const counts = new Map<number, number>();
  for (const i of rails) counts.set(i, (counts.get(i) ?? 0) + 1);
  const items = Int32Array.from(counts.keys()).sort();
  return columnOf(n, 0, [{ items, counts: Int32Array.from(items, (i) => counts.get(i)!) }]);
}
