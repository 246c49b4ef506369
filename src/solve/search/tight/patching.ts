import { type Column, type Cutting, trim } from '../../columns/columns.js';
import type { SearchGoal } from '../../instance/goal.js';
import type { Instance } from '../../instance/instance.js';
import type { Watch } from '../../instance/watch.js';
import type { LpFactory } from '../../lp/lp.js';
import { type NearPlan, PairSearch } from '../branch.js';
import { partOf } from './part.js';

/** Share of the rails that are shared out anew at a time, at least; nodes for each try, and tries. */
const SHARE = 0.47;
const NODES = 40;
const ATTEMPTS = 12;
/** Of so many sticks drawn the one with most rails is taken off: the more rails on a stick, the more ways to share them out. */
const DRAWN = 3;

/**
 * A plan at the mark from one that was nearly there (large neighbourhood search; Shaw 1998): its sticks are kept but for some
 * drawn at random, whose rails are shared out anew with those that were on none. What is left over has a plan in
 * fractions, as the whole has, and is a far smaller search. A try that comes as near is gone on from.
 */
export function patched(
  factories: readonly LpFactory[],
  instance: Instance,
  goal: SearchGoal,
  near: NearPlan,
  columns: readonly Column[],
  random: () => number,
  watch: Watch,
): Cutting[] | null {
  const pool = columns.slice();
  const rails = instance.demand.reduce((sum, d) => sum + d, 0);
  let { sticks, left } = near;
  for (let attempt = 0; attempt < ATTEMPTS && !watch.over(); attempt++) {
    const kept = sticks.slice();
    const demand = instance.demand.slice();
    for (const column of kept) changeDemand(demand, column, -1);
    let loose = demand.reduce((sum, d) => sum + d, 0);
    while (loose < SHARE * rails && kept.length > 0) {
      const drawn = Array.from({ length: DRAWN }, () => Math.floor(random() * kept.length));
      const at = drawn.reduce((a, b) => (railsOf(kept[b]!) > railsOf(kept[a]!) ? b : a));
      const [column] = kept.splice(at, 1);
      loose += changeDemand(demand, column!, 1);
    }
    const part = partOf(instance, demand);
    const length = part.instance.weight.reduce((sum, w, i) => sum + w * part.instance.demand[i]!, 0);
    const mark = Math.ceil(length / instance.largest) * goal.cost[0]!;
    const known = pool.flatMap((column) => part.inward(column) ?? []);
    const search = new PairSearch(factories, part.instance, goal, known, mark, watch);
    const { plan } = search.run(watch, NODES);
    const { near: nearer, columns: met } = search;
    for (let j = known.length; j < met.length; j++) pool.push(part.outward(met[j]!));
    search.dispose();
    const keep = kept.map((column) => ({ column, times: 1 }));
    if (plan) {
      const rest = trim(part.instance, plan);
      return [...keep, ...rest.map(({ column, times }) => ({ column: part.outward(column), times }))];
    }
    if (nearer && nearer.left <= left) {
      sticks = [...kept, ...nearer.sticks.map((column) => part.outward(column))];
      left = nearer.left;
    }
  }
  return null;
}

function railsOf({ counts }: Column): number {
  return counts.reduce((sum, count) => sum + count, 0);
}

/** Takes a column's rails to the demand, so many times; answers how many rails are on it. */
export function changeDemand(demand: Int32Array, column: Column, times: number): number {
  column.items.forEach((i, e) => {
    demand[i]! += times * column.counts[e]!;
  });
  return railsOf(column);
}
