import { allowance, chargesOf, type Duals, dualValue, feasibleDuals } from '../bounds/bound.js';
import { leastSetups, type SearchGoal } from '../instance/goal.js';
import { fitsOf, type Instance } from '../instance/instance.js';
import { leastWaste } from '../instance/waste.js';
import { NOTHING, type ProgrammeColumn } from '../search/programme.js';
import { columnOf, type Fill, lengthOf } from './columns.js';
import type { Knapsack } from './knapsack.js';
import type { Master } from './master.js';

const MOST_ENUMERATED = 50_000;
/** Where all are too many, a programme that can only find a plan is kept small. */
const MOST_HINTED = 1_000;
/** Nodes the enumeration of one segment may take. */
const MOST_NODES = 4_000_000;
/** Least share of what the reduced costs may come to that hints are sought in. */
const LEAST_SHARE = 1e-3;

function fillFrom(items: Int32Array, counts: Int32Array, size: number): Fill {
  let used = 0;
  for (let d = 0; d < size; d++) if (counts[d]! > 0) used++;
  const fill: Fill = { items: new Int32Array(used), counts: new Int32Array(used) };
  for (let d = 0, k = 0; d < size; d++) {
    if (counts[d]! > 0) {
      fill.items[k] = items[d]!;
      fill.counts[k++] = counts[d]!;
    }
  }
  return fill;
}

/**
 * All patterns that a plan of value ≤ `mark` may use: those whose reduced cost is at most mark − bound (reduced-cost
 * fixing: a plan's value is at least the dual bound plus its columns' reduced costs). A flawed piece costs once for
 * all its segments, so a segment's pattern is kept when the piece could still pay with the best in the others.
 * `slack` = mark·scale − value of the duals, Infinity for all patterns; patterns that waste more than `waste` are
 * left out. Null when there are more than `most` or the search ran out of nodes.
 */
function enumerate(
  instance: Instance,
  goal: SearchGoal,
  knapsack: Knapsack,
  duals: Duals,
  slack: number,
  waste: number,
  most: number,
  nodes = MOST_NODES,
): ProgrammeColumn[] | null {
  const choices: ProgrammeColumn[] = [];
  // Items worth nothing come along in any pattern: valued one unit, they are enumerated too.
  const values = duals.item.map((v) => Math.max(1, v));
  const charges = chargesOf(goal, duals);
  // A segment's pattern would be charged for items that others of the piece hold too.
  if (charges && instance.groups.some(({ segments }) => segments.length > 1)) return null;
  knapsack.load(values, instance.demand, Infinity, charges);
  const extra = Math.ceil(
    instance.largest /
      Math.max(
        1,
        instance.weight.reduce((a, b) => Math.min(a, b)),
      ),
  );
  for (let s = 0; s < instance.groups.length; s++) {
    const segments = instance.groups[s]!.segments;
    let best = 0;
    for (const capacity of segments) best += knapsack.upper(capacity);
    const least = allowance(goal, duals, s) - slack - 1 - extra * instance.groups[s]!.segments.length;
    // Patterns worth less than their set-ups are only found without these.
    const bare = charges && least < 0 ? charges : null;
    if (bare) knapsack.load(values, instance.demand);
    for (let k = 0; k < segments.length; k++) {
      const capacity = segments[k]!;
      const threshold = bare ? -1 : Math.max(-1, least - (best - knapsack.upper(capacity)));
      knapsack.search(capacity, threshold, nodes, -1, (items, counts, size, value) => {
        const fill = fillFrom(items, counts, size);
        if (value <= 0 || capacity - lengthOf(instance, fill) > waste) return true;
        if (bare && fill.items.reduce((sum, i) => sum - bare[i]!, value) < least) return true;
        const parts = Array.from(segments, (_, at) => (at === k ? fill : NOTHING));
        choices.push({ column: columnOf(instance.n, s, parts), segment: segments.length === 1 ? -1 : k });
        return choices.length <= most;
      });
      if (!knapsack.complete) return null;
    }
    if (bare) knapsack.load(values, instance.demand, Infinity, charges);
  }
  return choices;
}

/** Sound duals of the master's answer, and what the reduced costs of a plan of value ≤ mark may come to. */
function reducedCostSlack(
  master: Master,
  mark: number,
  seconds: number,
): { duals: Duals; slack: number } | null {
  const { instance, goal } = master;
  if (mark === Infinity || !master.solve(seconds)) return null;
  const raw = master.duals();
  master.pricing.price(raw, instance.demand, 10);
  const duals = feasibleDuals(instance, goal, raw);
  if (!duals) return null;
  const slack = Number(BigInt(mark) * BigInt(duals.scale) - dualValue(instance, goal, duals));
  return { duals, slack: Math.max(0, slack) };
}

/**
 * Every column that a plan of value ≤ `mark` may use, by reduced cost and by what all pieces can waste together; null
 * when they are more than `most` or finding them takes more than `nodes`. `mark` Infinity: every pattern.
 */
export function columnsWithin(
  master: Master,
  mark: number,
  holds: Float64Array | null,
  seconds: number,
  most = MOST_ENUMERATED,
  nodes = MOST_NODES,
): readonly ProgrammeColumn[] | null {
  const { instance, goal } = master;
  const { usual: knapsack } = master.pricing;
  const by = reducedCostSlack(master, mark, seconds);
  if (!by) {
    const plain = { ...goal, rows: [] };
    return enumerate(instance, plain, knapsack, unit(instance), Infinity, Infinity, most);
  }
  const setups = leastSetups(goal, instance.demand, fitsOf(instance));
  const waste = holds ? leastWaste(instance, goal, mark - setups) : Infinity;
  return enumerate(instance, goal, knapsack, by.duals, by.slack, waste, most, nodes);
}

/** Columns of least reduced cost, as far as a plan of value ≤ `mark` may use them, and those at hand. */
export function promisingColumns(master: Master, mark: number, seconds: number): readonly ProgrammeColumn[] {
  const { instance, goal } = master;
  const { usual: knapsack } = master.pricing;
  const atHand = master.columns.map((column) => ({ column, segment: -1 }));
  const by = reducedCostSlack(master, mark, seconds);
  for (let share = 1; by && share >= LEAST_SHARE; share /= 2) {
    const slack = by.slack * share;
    const choices = enumerate(instance, goal, knapsack, by.duals, slack, Infinity, MOST_HINTED);
    if (choices) return [...choices, ...atHand];
  }
  return atHand;
}

/** One for each item and nothing for anything else. */
function unit({ n, groups }: Instance): Duals {
  const none = new Float64Array(groups.length);
  return { scale: 1, item: new Float64Array(n).fill(1), supply: none, row: none, worth: none };
}
