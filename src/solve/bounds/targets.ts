import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';

/** How many pieces of each group a plan may use, what they cost and how much more they hold than is needed. */
export interface Target {
  readonly pieces: Float64Array;
  readonly cost: number;
  readonly slack: number;
}

export interface Targets {
  /** Cheapest first; each has more slack than all before it. */
  readonly list: readonly Target[];
  /** No plan costs less than this. */
  readonly bound: number;
}

/** Most vectors looked at; after that the answer is what was found so far. */
const MOST_NODES = 60_000;
/** Extra pieces of a group beyond what length asks for. */
const MOST_SPARE = 1;
/** More counted groups than this make too many vectors. */
const MOST_LANES = 12;

/**
 * Numbers of pieces that could hold everything, by length alone: at cost below `below` and within the goal's rows, at
 * most `most` of them. Groups that cost nothing are used in full. `holds[s]`: no piece of group s can be filled further.
 * Every plan's numbers of pieces are such a vector, so the cheapest is a bound. Whole numbers throughout; the rates
 * that prune are floating, with a margin.
 */
export function targets(
  instance: Instance,
  goal: SearchGoal,
  holds: Float64Array,
  below: number,
  most: number,
): Targets {
  const { groups, weight, demand, n } = instance;
  let need = 0;
  for (let i = 0; i < n; i++) need += weight[i]! * demand[i]!;
  const free = new Float64Array(groups.length);
  const counted: number[] = [];
  let given = 0;
  for (let s = 0; s < groups.length; s++) {
    if (holds[s] === 0) continue;
    if (goal.cost[s]! > 0 || goal.rows.some((row) => row.weights[s]! > 0)) counted.push(s);
    else if (groups[s]!.supply === Infinity) return { list: [], bound: 0 };
    else {
      free[s] = groups[s]!.supply;
      given += holds[s]! * groups[s]!.supply;
    }
  }
  if (counted.length > MOST_LANES) return { list: [], bound: 0 };
  counted.sort((a, b) => goal.cost[a]! / holds[a]! - goal.cost[b]! / holds[b]! || holds[b]! - holds[a]!);
  const rates = counted.map((s) => goal.cost[s]! / holds[s]!);
  const left = goal.rows.map((row) => row.limit);
  const pieces = free.slice();
  const found: Target[] = [];
  let roof = below;
  let nodes = 0;
  const beyond = (cost: number): boolean => cost > roof - 1 + 1e-6 * Math.max(1, cost * 1e-6);
  const keep = (cost: number, slack: number): void => {
    if (found.some((t) => t.cost <= cost && t.slack >= slack)) return;
    for (let k = found.length - 1; k >= 0; k--) {
      if (found[k]!.cost >= cost && found[k]!.slack <= slack) found.splice(k, 1);
    }
    found.push({ pieces: pieces.slice(), cost, slack });
    found.sort((a, b) => a.cost - b.cost);
    if (found.length > most) roof = found.splice(most)[0]!.cost;
  };
  const descend = (at: number, missing: number, cost: number): void => {
    if (++nodes > MOST_NODES) return;
    if (missing <= 0 && cost < roof) keep(cost, 0 - missing);
    if (at === counted.length || beyond(cost + Math.max(0, missing) * rates[at]!)) return;
    const s = counted[at]!;
    const c = goal.cost[s]!;
    // One piece more than length asks for leaves room for fillings with waste.
    let top = Math.min(groups[s]!.supply, Math.ceil(Math.max(0, missing) / holds[s]!) + MOST_SPARE);
    if (c > 0 && roof < Infinity) top = Math.min(top, Math.floor((roof - 1 - cost) / c));
    goal.rows.forEach((row, r) => {
      if (row.weights[s]! > 0) top = Math.min(top, Math.floor(left[r]! / row.weights[s]!));
    });
    for (let k = top; k >= 0; k--) {
      const rest = missing - k * holds[s]!;
      if (rest > 0 && beyond(cost + k * c + rest * (rates[at + 1] ?? Infinity))) break;
      pieces[s] = k;
      goal.rows.forEach((row, r) => {
        left[r]! -= k * row.weights[s]!;
      });
      descend(at + 1, rest, cost + k * c);
      goal.rows.forEach((row, r) => {
        left[r]! += k * row.weights[s]!;
      });
      if (nodes > MOST_NODES) break;
    }
    pieces[s] = 0;
  };
  descend(0, need - given, 0);
  const bound = nodes > MOST_NODES ? 0 : Math.min(found[0]?.cost ?? roof, roof);
  return { list: found, bound: bound === Infinity ? 0 : bound };
}

/**
 * The greatest length that pieces costing at most `mark` in all hold; Infinity where nothing limits it or the search
 * would take too long. Groups that cost nothing are used in full.
 */
export function roomiest(instance: Instance, goal: SearchGoal, holds: Float64Array, mark: number): number {
  const { groups } = instance;
  const counted: number[] = [];
  let given = 0;
  for (let s = 0; s < groups.length; s++) {
    if (goal.cost[s]! > 0) counted.push(s);
    else if (groups[s]!.supply === Infinity) return Infinity;
    else given += groups[s]!.supply * holds[s]!;
  }
  if (counted.length > MOST_LANES) return Infinity;
  counted.sort((a, b) => goal.cost[a]! / holds[a]! - goal.cost[b]! / holds[b]!);
  let best = 0;
  let nodes = 0;
  const descend = (at: number, money: number, length: number): void => {
    if (length > best) best = length;
    const s = counted[at];
    if (s === undefined || nodes > MOST_NODES) return;
    // Groups stand in order of length for money, so this one's rate bounds what the rest can still add.
    if (length + (money * holds[s]!) / goal.cost[s]! < best + 1 - 1e-6) return;
    for (let k = Math.min(groups[s]!.supply, Math.floor(money / goal.cost[s]!)); k >= 0; k--) {
      nodes++;
      descend(at + 1, money - k * goal.cost[s]!, length + k * holds[s]!);
      if (nodes > MOST_NODES) return;
    }
  };
  descend(0, mark, 0);
  return nodes > MOST_NODES ? Infinity : given + best;
}
