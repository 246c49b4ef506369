/**
 * Short rack pieces before long ones. Where the shop gives its pieces no value of their own, the goals see to that: a
 * piece is worth its length. Where it says that several are worth the same, the shortest that holds the rails is cut.
 */
import type { Pattern } from '../solve/problem.js';
import type { MouldingTask, Pile } from '../stock/task.js';
import { Handling } from './handling.js';

function longest(pile: Pile): number {
  return Math.max(...pile.sources.map(({ length }) => length));
}

/** Rack piles that could take a pattern of `pile` at the same worth, shorter ones first. */
function instead(task: MouldingTask, stock: number): readonly number[] {
  const pile = task.piles[stock]!;
  if (pile.offer !== null) return [];
  const own = longest(pile);
  return [...task.piles.keys()]
    .filter((other) => {
      const { offer, costs, lanes } = task.piles[other]!;
      if (other === stock || offer !== null || longest(task.piles[other]!) >= own) return false;
      return costs.every((cost, goal) => cost === pile.costs[goal]) && lanes.length >= pile.lanes.length;
    })
    .sort((a, b) => longest(task.piles[a]!) - longest(task.piles[b]!));
}

export function shortFirst(task: MouldingTask, patterns: readonly Pattern[]): readonly Pattern[] {
  const handling = new Handling(task);
  const free = task.piles.map(({ supply }) => supply ?? Number.POSITIVE_INFINITY);
  for (const { stock, count } of patterns) free[stock]! -= count;
  const out: Pattern[] = [];
  for (const pattern of patterns) {
    let rest = pattern.count;
    for (const other of instead(task, pattern.stock)) {
      if (rest === 0) break;
      const fits = pattern.segments.every((entries, lane) => {
        const sorted = entries.toSorted((a, b) => a.item - b.item);
        return entries.length === 0 || handling.room(other, lane, sorted) >= 0;
      });
      const count = fits ? Math.min(rest, free[other]!) : 0;
      if (count <= 0) continue;
      free[other]! -= count;
      free[pattern.stock]! += count;
      rest -= count;
      const lanes = task.piles[other]!.segments;
      out.push({ stock: other, count, segments: lanes.map((_, lane) => pattern.segments[lane] ?? []) });
    }
    if (rest > 0) out.push({ ...pattern, count: rest });
  }
  return out;
}
