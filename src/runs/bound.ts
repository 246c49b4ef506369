/**
 * How often stops must be set however the same pieces are cut and divided. Each setting once; more often where so many
 * sticks must have it beside another setting that one run cannot hold them. A stick that only one setting cuts is never
 * laid down begun, but wastes what its rails leave over, and the plan's pieces can waste no more than they have.
 */
import type { Pattern } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';
import type { Turns } from './sawing.js';

/** Rails of each item in all patterns. */
function railsOf(task: MouldingTask, patterns: readonly Pattern[]): readonly number[] {
  const rails = task.items.map(() => 0);
  for (const { count, segments } of patterns)
    for (const entry of segments.flat()) rails[entry.item]! += count * entry.count;
  return rails;
}

export function stopsBound(
  task: MouldingTask,
  turns: Turns,
  patterns: readonly Pattern[],
  bench: number,
): number {
  const rails = railsOf(task, patterns);
  const runs = turns.weight.map(() => 0);
  const plain = task.spacing.mitres.length === 1 && task.piles.every(({ segments }) => segments.length === 1);
  const pieces = new Map<number, number>();
  for (const { stock, count } of patterns) {
    const capacity = task.piles[stock]!.segments[0] ?? 0;
    pieces.set(capacity, (pieces.get(capacity) ?? 0) + count);
  }
  const used = [...pieces].map(([capacity, count]) => ({ capacity, count }));
  const free =
    used.reduce((sum, { capacity, count }) => sum + capacity * count, 0) -
    rails.reduce((sum, count, item) => sum + count * task.items[item]!.weight, 0);
  const lightest = Math.min(...task.items.flatMap(({ weight }, item) => (rails[item]! > 0 ? [weight] : [])));
  rails.forEach((count, item) => {
    if (count === 0) return;
    const stop = turns.stopOf[turns.turnOf[item]!]!;
    let need = 1;
    if (plain && Number.isFinite(bench)) need = Math.max(1, Math.ceil(mixedSticks(item, count) / bench));
    runs[stop] = Math.max(runs[stop]!, need);
  });
  return runs.reduce((sum, need, stop) => sum + need * turns.weight[stop]!, 0);

  /** Sticks that hold the item beside another setting, at least. */
  function mixedSticks(item: number, count: number): number {
    const { weight } = task.items[item]!;
    // Kinds of pieces from the one that wastes least when only this item is cut from it, while there is waste to spare.
    const alone = used
      .filter(({ capacity }) => capacity >= weight)
      .map((piece) => ({
        ...piece,
        holds: Math.floor(piece.capacity / weight),
        waste: piece.capacity % weight,
      }))
      .sort((a, b) => a.waste / a.holds - b.waste / b.holds);
    let [left, spare] = [count, free];
    for (const { holds, waste, count: sticks } of alone) {
      if (left <= 0) return 0;
      // Rails, not sticks, bound what one kind of piece takes: as if waste came in shares.
      const most = waste === 0 ? sticks : Math.min(sticks, spare / waste);
      left -= most * holds;
      spare -= most * waste;
    }
    if (left <= 0) return 0;
    const most = Math.max(...used.map(({ capacity }) => Math.floor((capacity - lightest) / weight)));
    return most <= 0 ? 0 : Math.ceil(left / most - 1e-9);
  }
}
