import type { Cutting } from '../columns/columns.js';
import type { Master } from '../columns/master.js';
import { columnCost, leastSetups } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { wasteWithin } from '../instance/waste.js';
import type { Watch } from '../instance/watch.js';
import { byRate, greedy } from '../packing/first.js';
import { closeRest } from '../packing/residual.js';

export interface DiveOptions {
  /** Only plans cheaper than this are of interest. */
  readonly below: number;
  readonly grain: number;
  /** How often in all the search may go back and choose otherwise (limited discrepancy search). */
  readonly backs: number;
  /** Choices tried at one depth. */
  readonly breadth: number;
  /** In [0, 1): stirs the choice among near-equal columns; 0 for none. */
  readonly noise: () => number;
  readonly watch: Watch;
  /** Most of each item that one piece holds. */
  readonly fits: Int32Array;
  readonly onPlan: (plan: Cutting[]) => void;
}

/** A column counts as whole from here on. */
const WHOLE = 1 - 1e-6;
/** Columns this near to one are fixed together with the first choice. */
const NEAR = 0.75;
const ROUNDS = 40;

export interface State {
  readonly demand: Int32Array;
  readonly used: Float64Array;
  readonly fixed: Cutting[];
  cost: number;
}

/** One depth of the dive: where it stood, what can be fixed next, and which choice is the next to try. */
interface Level {
  readonly state: State;
  readonly choices: readonly (readonly number[])[];
  next: number;
}

function copyOf(state: State): State {
  return {
    demand: state.demand.slice(),
    used: state.used.slice(),
    fixed: [...state.fixed],
    cost: state.cost,
  };
}

function fix(master: Master, state: State, j: number, times: number): void {
  const column = master.columns[j]!;
  state.fixed.push({ column, times });
  state.used[column.group]! += times;
  state.cost += times * columnCost(master.goal, column);
  for (let e = 0; e < column.items.length; e++) {
    const i = column.items[e]!;
    state.demand[i] = Math.max(0, state.demand[i]! - column.counts[e]! * times);
  }
}

/** How often column j can be cut within what is still needed and in stock. */
function room(master: Master, state: State, j: number): number {
  const { items, counts, group } = master.columns[j]!;
  let times = master.instance.groups[group]!.supply - state.used[group]!;
  for (let e = 0; e < items.length; e++)
    times = Math.min(times, Math.floor(state.demand[items[e]!]! / counts[e]!));
  return times;
}

function fixWhole(master: Master, state: State): void {
  for (let j = 0; j < master.columns.length; j++) {
    const whole = Math.min(Math.floor(master.at(j) + 1 - WHOLE), room(master, state, j));
    if (whole > 0) fix(master, state, j, whole);
  }
}

function rootOf({ demand, groups }: Instance): State {
  return { demand: demand.slice(), used: new Float64Array(groups.length), fixed: [], cost: 0 };
}

/** The whole numbers of the master's last answer, and what is left to make then. */
export function wholePart(master: Master): State {
  const state = rootOf(master.instance);
  fixWhole(master, state);
  return state;
}

class Dive {
  private below: number;

  constructor(
    private readonly master: Master,
    private readonly options: DiveOptions,
  ) {
    this.below = options.below;
  }

  /**
   * Solves the master for what is left, pricing only while the plan in hand could not beat `below`. False: no plan
   * below can come of this (or the LP failed).
   */
  private relax(state: State): boolean {
    const { master, options } = this;
    const target = this.below - options.grain + 1e-6 * Math.max(1, options.grain);
    master.restrict(state.demand, state.used, state.fixed);
    const { instance, goal } = master;
    const setups = leastSetups(goal, state.demand, options.fits);
    const waste = wasteWithin(instance, goal, state.demand, target - state.cost - setups);
    for (let round = 0; round < ROUNDS; round++) {
      if (options.watch.over()) return false;
      const answer = master.solve(options.watch.seconds());
      if (!answer) return false;
      const open = state.cost + answer.objective > target;
      if (!open && !master.leavesOut()) return true;
      if (master.pricing.price(master.duals(), state.demand, 12, waste) === 0)
        return !open && !master.leavesOut();
    }
    return true;
  }

  private offer(state: State, rest: readonly Cutting[]): void {
    const { goal } = this.master;
    const cost = rest.reduce((sum, { column, times }) => sum + times * columnCost(goal, column), state.cost);
    if (cost >= this.below) return;
    this.below = cost;
    this.options.onPlan([...state.fixed, ...rest]);
  }

  /** Fixes what is whole; the level's choices are the fractional columns, the largest first. */
  private level(from: State): Level {
    const { master, options } = this;
    const state = copyOf(from);
    fixWhole(master, state);
    const near: [number, number][] = [];
    for (let j = 0; j < master.columns.length; j++) {
      const x = master.at(j);
      const part = x - Math.floor(x + 1 - WHOLE);
      if (part > 1e-6 && room(master, state, j) > 0) near.push([part + 0.05 * options.noise(), j]);
    }
    near.sort((a, b) => b[0] - a[0] || a[1] - b[1]);
    const choices: number[][] = near.slice(0, options.breadth).map(([, j]) => [j]);
    for (let k = 1; k < near.length && near[k]![0] >= NEAR; k++) choices[0]!.push(near[k]![1]);
    if (choices.length === 0) choices.push([]);
    return { state, choices, next: 0 };
  }

  private close(state: State): Cutting[] | null | undefined {
    const { instance, goal } = this.master;
    const setups = leastSetups(goal, state.demand, this.options.fits);
    const below = this.below - state.cost - setups;
    return closeRest(instance, goal, state.demand, state.used, below, this.options.watch);
  }

  run(): void {
    const { master, options } = this;
    const { instance, goal } = master;
    const levels: Level[] = [];
    let state = rootOf(instance);
    for (let backs = 0; ; ) {
      let alive = this.relax(state);
      if (options.watch.over()) return;
      if (alive) {
        const level = this.level(state);
        const missing = level.state.demand.reduce((sum, d) => sum + d, 0);
        const stuck =
          missing === state.demand.reduce((sum, d) => sum + d, 0) && level.choices[0]!.length === 0;
        const closed = missing === 0 ? [] : this.close(level.state);
        if (closed) this.offer(level.state, closed);
        else if (goal.rows.length === 0 && closed === undefined) {
          const spare = Float64Array.from(instance.groups, (group, s) => group.supply - level.state.used[s]!);
          const rest = greedy(instance, goal.cost, byRate, level.state.demand, spare);
          if (rest) this.offer(level.state, rest);
        }
        alive = missing > 0 && !stuck && closed !== null;
        if (alive) levels.push(level);
        else if (this.below < options.below) return;
      }
      if (!alive) {
        if (backs++ >= options.backs) return;
        while (
          levels.length > 0 &&
          levels[levels.length - 1]!.next >= levels[levels.length - 1]!.choices.length
        ) {
          levels.pop();
        }
      }
      const level = levels[levels.length - 1];
      if (!level) return;
      state = copyOf(level.state);
      for (const j of level.choices[level.next]!) if (room(master, state, j) > 0) fix(master, state, j, 1);
      level.next++;
    }
  }
}

/**
 * A dive from the root: what is whole is fixed, then the largest fraction, and the rest is solved again with columns
 * priced for it (relax and fix); where no plan below the mark can follow, it goes back and chooses otherwise, a
 * limited number of times. Plans below the mark are handed out. The master's rows are put back before it returns.
 */
export function dive(master: Master, options: DiveOptions): void {
  new Dive(master, options).run();
  master.restrict(master.instance.demand, new Float64Array(master.instance.groups.length));
}
