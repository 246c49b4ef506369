import { targets } from '../bounds/targets.js';
import type { Cutting } from '../columns/columns.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { BIN_NODES_A_UNIT, UNCOUNTED, type Work } from '../instance/watch.js';
import { closePack } from './close-pack.js';
import { assemble, binsOf } from './pack.js';

/** The rest is searched exactly when it is no larger than this. */
const MOST_ITEMS = 60;
const MOST_BINS = 8;
const NODES = 30_000;
const MOST_TARGETS = 3;

/** The rest of a problem: `demand` is still to be made and `used` pieces are gone. The items stay the same. */
export function remaining(
  instance: Instance,
  goal: SearchGoal,
  demand: Int32Array,
  used: Float64Array,
): { instance: Instance; goal: SearchGoal } {
  const groups = instance.groups.map((group, s) => ({ ...group, supply: group.supply - used[s]! }));
  const rows = goal.rows.map((row) => ({
    weights: row.weights,
    limit: row.limit - row.weights.reduce((sum, w, s) => sum + (w === 0 ? 0 : w * used[s]!), 0),
  }));
  return { instance: { ...instance, demand, groups }, goal: { ...goal, rows } };
}

/**
 * The rest of a dive by exact search: a way to make `demand` at cost below `below`, with `used` taken from the supplies
 * and the goal's rows. Null: probably there is none, since every likely number of pieces was searched to its end.
 * Undefined: the rest is too large, or the search ran out of nodes.
 */
export function closeRest(
  instance: Instance,
  goal: SearchGoal,
  demand: Int32Array,
  used: Float64Array,
  below: number,
  work: Work = UNCOUNTED,
): Cutting[] | null | undefined {
  if (instance.kinds) return undefined;
  let items = 0;
  for (const d of demand) items += d;
  if (items > MOST_ITEMS) return undefined;
  const { instance: rest, goal: aim } = remaining(instance, goal, demand, used);
  const holds = Float64Array.from(instance.groups, (group) => group.segments.reduce((a, b) => a + b, 0));
  let cut = false;
  for (const { pieces } of targets(rest, aim, holds, below, MOST_TARGETS).list) {
    const bins = binsOf(rest, pieces);
    if (bins.reduce((sum, bin) => sum + bin.left, 0) > MOST_BINS) {
      cut = true;
      continue;
    }
    let slack = 0;
    for (const bin of bins) slack += bin.left * bin.type.capacity;
    demand.forEach((d, i) => {
      slack -= d * instance.weight[i]!;
    });
    const closed = closePack(rest, demand, bins, slack, NODES);
    work.spend(closed.nodes / BIN_NODES_A_UNIT);
    if (closed.fillings) return assemble(instance, closed.fillings);
    cut ||= closed.cut;
  }
  return cut ? undefined : null;
}
