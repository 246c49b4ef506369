import { type Duals, dualValue, feasibleDuals } from './bound.js';
import { type Choice, enumerate } from './finish.js';
import type { Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Master } from './master.js';
import { roomiest } from './targets.js';

export interface Useful {
  readonly choices: readonly Choice[];
  /** Whether they are all there are; else a programme over them proves nothing. */
  readonly all: boolean;
}

const MOST_ENUMERATED = 20_000;
/** Where all are too many, a programme that can only find a plan is kept small. */
const MOST_HINTED = 1_000;

/**
 * Every column that a plan of value ≤ `mark` may use, by reduced cost and by what all pieces can waste together; where
 * they are too many, with `hints` those of least reduced cost, and those at hand. `mark` Infinity: every pattern.
 */
export function useful(
  master: Master,
  mark: number,
  holds: Float64Array | null,
  seconds: number,
  hints: boolean,
): Useful {
  const { instance, goal, knapsack } = master;
  const atHand = (): Choice[] => master.columns.map((column) => ({ column, segment: -1 }));
  if (mark === Infinity || !master.solve(seconds)) {
    const all = enumerate(
      instance,
      { ...goal, rows: [] },
      knapsack,
      unit(instance),
      Infinity,
      Infinity,
      MOST_ENUMERATED,
    );
    return all ? { choices: all, all: true } : { choices: atHand(), all: false };
  }
  const raw = master.duals();
  master.price(raw, instance.demand, 10);
  const duals = feasibleDuals(instance, goal, raw);
  if (!duals) return { choices: atHand(), all: false };
  const slack = Math.max(0, Number(BigInt(mark) * BigInt(duals.scale) - dualValue(instance, goal, duals)));
  const waste = wasteOf(instance, goal, holds, mark);
  for (let part = 1; part >= (hints ? 1e-3 : 1); part /= 2) {
    const most = part === 1 ? MOST_ENUMERATED : MOST_HINTED;
    const choices = enumerate(instance, goal, knapsack, duals, slack * part, waste, most);
    if (choices)
      return part === 1 ? { choices, all: true } : { choices: [...choices, ...atHand()], all: false };
  }
  return { choices: atHand(), all: false };
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
