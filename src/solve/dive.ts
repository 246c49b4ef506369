import type { Cutting } from './columns.js';
import { byRate, greedy } from './first.js';
import type { Master } from './master.js';
import type { Watch } from './watch.js';

export interface DiveOptions {
  /** Only plans cheaper than this are of interest. */
  readonly below: number;
  readonly grain: number;
  /** At this depth the second choice is taken instead of the first; −1: never (limited discrepancy search). */
  readonly discrepancy: number;
  /** Whole-number noise for the choice among near-equal columns; 0 for none. */
  readonly noise: () => number;
  readonly watch: Watch;
  readonly onPlan: (plan: Cutting[]) => void;
}

/** A column counts as whole from here on. */
const WHOLE = 1 - 1e-6;
/** Columns this near to one are fixed together. */
const NEAR = 0.65;
const ROUNDS = 40;

interface State {
  readonly demand: Int32Array;
  readonly used: Float64Array;
  readonly fixed: Cutting[];
  cost: number;
}

function fix(master: Master, state: State, j: number, times: number): void {
  const column = master.columns[j]!;
  state.fixed.push({ column, times });
  state.used[column.lane]! += times;
  state.cost += times * master.goal.cost[column.lane]!;
  for (let e = 0; e < column.items.length; e++) {
    const i = column.items[e]!;
    state.demand[i] = Math.max(0, state.demand[i]! - column.counts[e]! * times);
  }
}

function fits(master: Master, state: State, j: number): boolean {
  const { items, counts, lane } = master.columns[j]!;
  if (state.used[lane]! >= master.instance.lanes[lane]!.supply) return false;
  for (let e = 0; e < items.length; e++) if (counts[e]! > state.demand[items[e]!]!) return false;
  return true;
}

/**
 * Solves the master for what is left, pricing only while the plan in hand could not beat `below`. False: no plan
 * below can come of this (or the LP failed).
 */
function relax(master: Master, state: State, options: DiveOptions): boolean {
  const target = options.below - options.grain + 1e-6 * Math.max(1, options.grain);
  master.restrict(state.demand, state.used);
  for (let round = 0; round < ROUNDS; round++) {
    if (options.watch.over()) return false;
    const answer = master.solve(options.watch.seconds());
    if (!answer) return false;
    const open = state.cost + answer.objective > target;
    if (!open && !master.leavesOut()) return true;
    const duals = master.duals();
    if (master.price(duals, state.demand, 12) === 0) return !open && !master.leavesOut();
  }
  return true;
}

function choose(master: Master, state: State, options: DiveOptions, depth: number): boolean {
  const count = master.columns.length;
  let fixedAny = false;
  for (let j = 0; j < count; j++) {
    const whole = Math.floor(master.at(j) + 1 - WHOLE);
    for (let t = whole; t > 0; t--) {
      if (!fits(master, state, j)) break;
      fix(master, state, j, 1);
      fixedAny = true;
    }
  }
  if (fixedAny && depth !== options.discrepancy) return true;
  const near: [number, number][] = [];
  for (let j = 0; j < count; j++) {
    const x = master.at(j);
    if (x > 1e-6 && fits(master, state, j)) near.push([x + 0.02 * options.noise(), j]);
  }
  near.sort((a, b) => b[0] - a[0] || a[1] - b[1]);
  if (near.length === 0) return fixedAny;
  const from = depth === options.discrepancy && near.length > 1 ? 1 : 0;
  fix(master, state, near[from]![1], 1);
  for (let k = from + 1; k < near.length && k < from + 8; k++) {
    if (near[k]![0] < NEAR) break;
    if (fits(master, state, near[k]![1])) fix(master, state, near[k]![1], 1);
  }
  return true;
}

/**
 * One dive from the master's last answer: what is whole is fixed, then the largest fraction, and the rest is solved
 * again with columns priced for it (relax and fix). Plans below the mark are handed out. The master's rows are put
 * back before it returns.
 */
export function dive(master: Master, options: DiveOptions): void {
  const { instance, goal } = master;
  const state: State = {
    demand: instance.demand.slice(),
    used: new Float64Array(instance.lanes.length),
    fixed: [],
    cost: 0,
  };
  let below = options.below;
  const offer = (plan: Cutting[], cost: number): void => {
    if (cost >= below) return;
    below = cost;
    options.onPlan(plan);
  };
  for (let depth = 0; ; depth++) {
    const now = { ...options, below };
    if (!relax(master, state, now)) break;
    if (!choose(master, state, now, depth)) break;
    const missing = state.demand.reduce((sum, d) => sum + d, 0);
    if (missing === 0) {
      offer(state.fixed, state.cost);
      break;
    }
    if (goal.rows.length > 0) continue;
    const spare = Float64Array.from(instance.lanes, (lane, s) => lane.supply - state.used[s]!);
    const rest = greedy(instance, goal.cost, byRate, state.demand, spare);
    if (rest) {
      const cost = rest.reduce((sum, { column, times }) => sum + times * goal.cost[column.lane]!, state.cost);
      offer([...state.fixed, ...rest], cost);
    }
  }
  master.restrict(instance.demand, new Float64Array(instance.lanes.length));
}
