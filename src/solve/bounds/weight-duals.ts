import type { Knapsack } from '../columns/knapsack.js';
import { StepPricing } from '../columns/step-pricing.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { type EndingWork, UNCOUNTED } from '../instance/watch.js';
import type { Duals } from './bound.js';

/** Most nodes of the search for the fullest pattern of one segment; after that the capacity is used instead. */
const FILL_NODES = 3_000;

/**
 * Proven: the most that one piece of each group can be filled with. The fullest pattern; where the search for it has no end,
 * what numbers of rails say, or the capacity.
 */
export function fullest(instance: Instance, knapsack: Knapsack, work: EndingWork = UNCOUNTED): Float64Array {
  knapsack.load(instance.weight, instance.demand);
  let ended = true;
  const holds = Float64Array.from(instance.groups, ({ segments }) => {
    let sum = 0;
    for (const capacity of segments) {
      if (capacity < instance.weight[instance.n - 1]! && !instance.kinds) continue;
      const value = knapsack.search(capacity, 0, FILL_NODES);
      ended &&= knapsack.complete;
      sum += knapsack.complete ? Math.max(0, value) : Math.min(capacity, knapsack.upper(capacity));
    }
    return sum;
  });
  const stepped = ended ? null : StepPricing.of(instance, work);
  if (!stepped) return holds;
  const worth = new Float64Array(holds.length);
  stepped.price(Float64Array.from(instance.weight), worth);
  return holds.map((most, s) => Math.min(most, worth[s]!));
}

/**
 * Duals proportional to length. They cost no search, and are near the best where many lengths fill a stick in many ways.
 * The rate is the cheapest unlimited group's, or that of a dearer limited one where this bounds more (the dual function
 * is concave in the rate and bends only at a group's own). Null where the bound is not above 0.
 */
export function weightDuals(instance: Instance, goal: SearchGoal, holds: Float64Array): Duals | null {
  const { groups, weight, demand, n } = instance;
  if (goal.unmade) return null;
  let need = 0;
  for (let i = 0; i < n; i++) need += weight[i]! * demand[i]!;
  let roof = Infinity;
  const rates: number[] = [];
  for (let s = 0; s < groups.length; s++) {
    if (holds[s]! <= 0) continue;
    rates.push(goal.cost[s]! / holds[s]!);
    if (groups[s]!.supply === Infinity) roof = Math.min(roof, goal.cost[s]! / holds[s]!);
  }
  let best = 0;
  let rate = 0;
  for (const r of rates) {
    if (r > roof) continue;
    let value = r * need;
    for (let s = 0; s < groups.length; s++) {
      if (groups[s]!.supply !== Infinity)
        value -= groups[s]!.supply * Math.max(0, r * holds[s]! - goal.cost[s]!);
    }
    if (value > best) [best, rate] = [value, r];
  }
  if (rate <= 0) return null;
  const most = Math.max(...holds);
  // The worth of a piece stays an exact double: length times a whole rate.
  const scale = 2 ** Math.floor(Math.log2(2 ** 51 / Math.max(1, rate * most, ...goal.cost)));
  const whole = Math.floor(rate * scale);
  if (whole < 1 || scale < 1) return null;
  return {
    scale,
    item: weight.map((w) => w * whole),
    supply: new Float64Array(groups.length),
    row: new Float64Array(goal.rows.length),
    worth: holds.map((f) => f * whole),
  };
}
