/**
 * How often stops must be set however the same pieces are cut and divided. Each setting once; more often where so many
 * sticks must have it beside another setting that one run cannot hold them. A stick that only one setting cuts is never
 * laid down begun, but wastes what its rails leave over, and all settings together can waste no more than the plan's
 * pieces have to spare.
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
  const settings = turns.weight.map((): number[] => []);
  rails.forEach((count, item) => {
    if (count > 0) settings[turns.stopOf[turns.turnOf[item]!]!]!.push(item);
  });
  const once = settings.reduce((sum, items, stop) => sum + (items.length > 0 ? turns.weight[stop]! : 0), 0);
  if (!plain || !Number.isFinite(bench)) return once;
  return (
    once +
    leastMore(
      settings.map((items, stop) => ({ weight: turns.weight[stop]!, wastes: wastesOf(items) })),
      free,
    )
  );

  /** The least waste with which a setting is set in one run, in two, and so on; 0 at last. */
  function wastesOf(items: readonly number[]): readonly number[] {
    // Items of one setting may share a stick that only this setting cuts.
    if (items.length !== 1) return [0];
    const wastes: number[] = [];
    for (let runs = 1; wastes.at(-1) !== 0; runs++)
      wastes.push(items.reduce((sum, item) => sum + wasteIn(item, runs), 0));
    return wastes;
  }

  /** The least waste of sticks that only this item is cut from, where so many runs hold all others it is cut from. */
  function wasteIn(item: number, runs: number): number {
    const { weight } = task.items[item]!;
    const most = Math.max(0, ...used.map(({ capacity }) => Math.floor((capacity - lightest) / weight)));
    // A stick holds no more of it beside another setting, and a run no more such sticks than the bench.
    let left = rails[item]! - runs * bench * most;
    if (most <= 0 || left <= 0) return 0;
    let waste = 0;
    const alone = used
      .filter(({ capacity }) => capacity >= weight)
      .map(({ capacity, count }) => ({
        holds: Math.floor(capacity / weight),
        over: capacity % weight,
        count,
      }))
      .sort((a, b) => a.over / a.holds - b.over / b.holds);
    for (const { holds, over, count } of alone) {
      // Rails, not sticks, bound what one kind of piece takes: as if waste came in shares.
      const taken = Math.min(left, count * holds);
      waste += (taken / holds) * over;
      left -= taken;
      if (left <= 0) return Math.max(0, waste - 1e-6 * waste);
    }
    return Number.POSITIVE_INFINITY;
  }
}

interface SettingRuns {
  readonly weight: number;
  /** By number of runs less one: the least waste. */
  readonly wastes: readonly number[];
}

/** Stops that must be set beyond each setting once, since all settings share what may be wasted. */
function leastMore(settings: readonly SettingRuns[], free: number): number {
  // By stops set more: the least waste of the settings so far.
  let best = [0];
  for (const { weight, wastes } of settings) {
    if (wastes.length === 1) continue;
    const next: number[] = [];
    best.forEach((before, more) => {
      wastes.forEach((waste, runs) => {
        const at = more + weight * runs;
        next[at] = Math.min(next[at] ?? Number.POSITIVE_INFINITY, before + waste);
      });
    });
    best = Array.from(next, (waste) => waste ?? Number.POSITIVE_INFINITY);
  }
  return best.findIndex((waste) => waste <= free);
}
