import { roomiest } from '../bounds/targets.js';
import type { SearchGoal } from './goal.js';
import type { Instance } from './instance.js';

function lengthOf({ weight }: Instance, demand: Int32Array): number {
  return weight.reduce((sum, w, i) => sum + w * demand[i]!, 0);
}

/**
 * The most that a plan which makes this demand for at most `cost` can leave over in all, and so in one piece. Bounded by
 * the group that holds most for its cost, for searches that ask often.
 */
export function wasteWithin(instance: Instance, goal: SearchGoal, demand: Int32Array, cost: number): number {
  let held = 0;
  instance.groups.forEach(({ segments }, s) => {
    const length = segments.reduce((sum, c) => sum + c, 0);
    held = Math.max(held, goal.cost[s]! > 0 ? (length / goal.cost[s]!) * cost : Infinity);
  });
  return Math.max(0, Math.floor(held * (1 + 1e-12) - lengthOf(instance, demand)));
}

/**
 * The same for the whole demand and whole numbers of pieces, which is tighter. Infinity for flawed pieces, and where kinds
 * make length no measure.
 */
export function leastWaste(instance: Instance, goal: SearchGoal, cost: number): number {
  if (instance.kinds || instance.groups.some((group) => group.segments.length > 1)) return Infinity;
  const capacities = Float64Array.from(instance.groups, (group) => group.segments[0]!);
  return roomiest(instance, goal, capacities, cost) - lengthOf(instance, instance.demand);
}
