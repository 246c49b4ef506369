import { type Column, type Cutting, columnOf, trim } from '../../columns/columns.js';
import type { SearchGoal } from '../../instance/goal.js';
import type { Instance } from '../../instance/instance.js';
import type { Watch } from '../../instance/watch.js';
import type { LpFactory } from '../../lp/lp.js';
import { PairSearch } from '../branch.js';
import { partOf } from './part.js';
import { type Drawn, EvenShares } from './shares.js';

/** How a plan is drawn. */
interface Manner {
  /** Passes over all rails before the first stick is taken, and after each time some were. */
  readonly first: number;
  readonly passes: number;
  /** Share of the sticks left that is taken at a time. */
  readonly taken: number;
  /** So many rails are left to the search over pairs, and for how many nodes. */
  readonly rails: number;
  readonly nodes: number;
}

/** Where plans abound, and where they are few: carefully, and until what is left has hardly one. */
const ABOUNDING: Manner = { first: 8, passes: 1, taken: 0.12, rails: 75, nodes: 60 };
const SPARSE: Manner = { first: 40, passes: 2, taken: 0.02, rails: 140, nodes: 100 };
/** ln of the number of plans for each stick, from which they abound, and below which there is likely none. */
const MANY_PLANS = 0.3;
const HARDLY_ANY = -0.5;
/** Fillings drawn at a time. */
const DRAWS = 200;

/**
 * Plans drawn stick by stick from even shares: of fillings that are drawn those with the largest shares are taken, so that
 * what is left can be made in as many ways as possible, then the shares are set right for what is left (decimation by
 * marginals; Montanari, Ricci-Tersenghi and Semerjian 2007). The last rails are left to the search over pairs.
 */
export class PlanDrawing {
  private readonly shares: EvenShares;
  /** Factors that each try begins with, once there was one. */
  private first: Float64Array | null = null;
  private readonly manner: Manner;
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

  /** One plan tried for. */
  run(watch: Watch): Cutting[] | null {
    const { instance, goal, factories, shares, random, manner } = this;
    if (!this.first) {
      shares.settle(manner.first - ABOUNDING.first);
      this.first = shares.factor.slice();
    }
    shares.restart(this.first);
    const taken: Drawn[] = [];
    while (shares.rails > manner.rails) {
      if (watch.over() || !shares.settle(manner.passes)) return null;
      const most = Math.max(1, Math.floor(manner.taken * shares.left));
      const fillings = shares.take(shares.draw(DRAWS, random), most);
      if (fillings.length === 0) return null;
      taken.push(...fillings);
    }
    const sticks = taken.map(({ items }) => columnWith(instance, items));
    const part = partOf(instance, shares.demand);
    const search = new PairSearch(factories, part.instance, goal, [], shares.left * goal.cost[0]!, watch);
    const { plan } = search.run(watch, manner.nodes);
    search.dispose();
    if (!plan) return null;
    const rest = trim(part.instance, plan);
    return [
      ...sticks.map((column) => ({ column, times: 1 })),
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
