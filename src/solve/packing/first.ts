import { type Column, type Cutting, columnOf, type Fill, fillOf } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';

/** Which stock the next piece is taken from, when several could serve. */
export type PieceScore = (cost: number, filled: number, room: number) => number;

/** Cheapest for what is put on it; among equals the fullest. */
export const byRate: PieceScore = (cost, filled, room) => (cost + 1e-9 * room) / filled;
/** Least left over, at any cost. */
export const byRemainder: PieceScore = (cost, filled, room) => room / filled + 1e-12 * cost;

/** First fit decreasing on one segment, from item `from` on; what it takes is subtracted from `rest`. */
function fillSegment(instance: Instance, capacity: number, rest: Int32Array): { fill: Fill; length: number } {
  const { n, weight, kind, kinds } = instance;
  const counts = new Int32Array(n);
  let room = capacity;
  let last = -1;
  for (let i = 0; i < n; i++) {
    if (rest[i]! <= 0) continue;
    const own = kind[i]!;
    const meet = kinds ? (last < 0 ? kinds.start[own]! : kinds.joint[last]![own]!) : 0;
    const again = kinds ? kinds.joint[own]![own]! : 0;
    const k = Math.min(rest[i]!, Math.floor((room - meet + again) / (weight[i]! + again)));
    if (k <= 0) continue;
    counts[i] = k;
    rest[i]! -= k;
    room -= meet + k * weight[i]! + (k - 1) * again;
    last = own;
  }
  return { fill: fillOf(counts), length: capacity - room };
}

function fillPiece(
  instance: Instance,
  group: number,
  rest: Int32Array,
): { column: Column; filled: number; room: number } {
  const left = rest.slice();
  const parts: Fill[] = [];
  let filled = 0;
  let room = 0;
  for (const capacity of instance.groups[group]!.segments) {
    const { fill, length } = fillSegment(instance, capacity, left);
    parts.push(fill);
    filled += length;
    room += capacity - length;
  }
  return { column: columnOf(instance.n, group, parts), filled, room };
}

function timesOf(column: Column, rest: Int32Array, supply: number): number {
  let times = supply;
  for (let e = 0; e < column.items.length; e++) {
    times = Math.min(times, Math.floor(rest[column.items[e]!]! / column.counts[e]!));
  }
  return Math.max(1, times);
}

/** Cheapest group that holds all that is left on one piece, if any does. */
function lastPiece(
  instance: Instance,
  cost: readonly number[],
  rest: Int32Array,
  left: Float64Array,
): Column | null {
  let best: Column | null = null;
  let least = Infinity;
  for (let s = 0; s < instance.groups.length; s++) {
    if (left[s]! <= 0 || cost[s]! >= least) continue;
    const { column } = fillPiece(instance, s, rest);
    let made = 0;
    let wanted = 0;
    for (const c of column.counts) made += c;
    for (const r of rest) wanted += r;
    if (made === wanted) [best, least] = [column, cost[s]!];
  }
  return best;
}

/**
 * A plan by first fit decreasing, piece by piece, each as often as the demand allows: quick and never far off.
 * `spare` says how many pieces of each group remain. Null when stock runs out before everything is made.
 */
export function greedy(
  instance: Instance,
  cost: readonly number[],
  choice: PieceScore,
  demand: Int32Array,
  spare: Float64Array,
): Cutting[] | null {
  const rest = demand.slice();
  const left = spare.slice();
  const plan: Cutting[] = [];
  let missing = rest.reduce((sum, r) => sum + r, 0);
  let weight = rest.reduce((sum, r, i) => sum + r * instance.weight[i]!, 0);
  while (missing > 0) {
    let best: Column | null = null;
    let least = Infinity;
    if (weight <= instance.largest && instance.groups.length > 1)
      best = lastPiece(instance, cost, rest, left);
    if (!best) {
      for (let s = 0; s < instance.groups.length; s++) {
        if (left[s]! <= 0) continue;
        const { column, filled, room } = fillPiece(instance, s, rest);
        if (filled === 0) continue;
        const score = choice(cost[s]!, filled, room);
        if (score < least) [best, least] = [column, score];
      }
    }
    if (!best) return null;
    const times = timesOf(best, rest, left[best.group]!);
    plan.push({ column: best, times });
    left[best.group]! -= times;
    for (let e = 0; e < best.items.length; e++) {
      const made = Math.min(rest[best.items[e]!]!, best.counts[e]! * times);
      rest[best.items[e]!]! -= made;
      missing -= made;
      weight -= made * instance.weight[best.items[e]!]!;
    }
  }
  return plan;
}
