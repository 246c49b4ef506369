import { type Duals, dualValue, feasibleDuals } from './bound.js';
import { enumerate } from './finish.js';
import type { Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Master } from './master.js';
import type { Choice } from './programme.js';
import { roomiest } from './targets.js';

const MOST_ENUMERATED = 50_000;
/** Where all are too many, a programme that can only find a plan is kept small. */
const MOST_HINTED = 1_000;
/** Least share of what the reduced costs may come to that hints are sought in. */
const LEAST_SHARE = 1e-3;

/** Sound duals of the master's answer, and what the reduced costs of a plan of value ≤ mark may come to. */
function reducing(master: Master, mark: number, seconds: number): { duals: Duals; slack: number } | null {
  const { instance, goal } = master;
  if (mark === Infinity || !master.solve(seconds)) return null;
  const raw = master.duals();
  master.price(raw, instance.demand, 10);
  const duals = feasibleDuals(instance, goal, raw);
  if (!duals) return null;
  const slack = Number(BigInt(mark) * BigInt(duals.scale) - dualValue(instance, goal, duals));
  return { duals, slack: Math.max(0, slack) };
}

/**
 * Every column that a plan of value ≤ `mark` may use, by reduced cost and by what all pieces can waste together; null
 * when they are too many. `mark` Infinity: every pattern.
 */
export function everything(
  master: Master,
  mark: number,
  holds: Float64Array | null,
  seconds: number,
): readonly Choice[] | null {
  const { instance, goal, knapsack } = master;
  const by = reducing(master, mark, seconds);
  if (!by) {
    const plain = { ...goal, rows: [] };
    return enumerate(instance, plain, knapsack, unit(instance), Infinity, Infinity, MOST_ENUMERATED);
  }
  const waste = wasteOf(instance, goal, holds, mark);
  return enumerate(instance, goal, knapsack, by.duals, by.slack, waste, MOST_ENUMERATED);
}

/** Columns of least reduced cost, as far as a plan of value ≤ `mark` may use them, and those at hand. */
export function hinted(master: Master, mark: number, seconds: number): readonly Choice[] {
  const { instance, goal, knapsack } = master;
  const atHand = master.columns.map((column) => ({ column, segment: -1 }));
  const by = reducing(master, mark, seconds);
  for (let share = 1; by && share >= LEAST_SHARE; share /= 2) {
    const slack = by.slack * share;
    const choices = enumerate(instance, goal, knapsack, by.duals, slack, Infinity, MOST_HINTED);
    if (choices) return [...choices, ...atHand];
  }
  return atHand;
}

/** One for each item and nothing for anything else. */
function unit({ n, lanes }: Instance): Duals {
  const none = new Float64Array(lanes.length);
  return { scale: 1, item: new Float64Array(n).fill(1), supply: none, row: none, worth: none };
}

/** What all the pieces of a plan of value ≤ mark can waste together; Infinity where kinds make length no measure. */
function wasteOf(instance: Instance, goal: Goal, holds: Float64Array | null, mark: number): number {
  if (!holds || instance.kinds || instance.lanes.some((lane) => lane.segments.length > 1)) return Infinity;
  const capacities = Float64Array.from(instance.lanes, (lane) => lane.segments[0]!);
  let needed = 0;
  for (let i = 0; i < instance.n; i++) needed += instance.weight[i]! * instance.demand[i]!;
  return roomiest(instance, goal, capacities, mark) - needed;
}
