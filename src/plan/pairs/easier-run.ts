/**
 * The sticks of one run cut otherwise, so that fewer visits are made and pairs lie together. Only the run's own rails and
 * pieces change places, so its stops stay. Sticks that leave an offcut to keep stay as they are.
 */
import { unitTypesByItem } from '../../layout/names.js';
import { StickHandling } from '../../layout/stick-handling.js';
import type { Piece } from '../../solve/packer.js';
import type { Pattern, Problem } from '../../solve/problem.js';
import type { MouldingTask } from '../../stock/task.js';
import { packPairs } from './pack-pairs.js';
import { repack } from './repack.js';

/** Attempts at all sticks of a run, and rounds of emptying and filling a few for each stick. */
const WHOLE = 8;
const ROUNDS_A_STICK = 25;

function visits(patterns: readonly Pattern[]): number {
  return patterns.reduce((sum, { count, segments }) => sum + count * segments.flat().length, 0);
}

/** For problems of one angle. */
export function easierRun(
  task: MouldingTask,
  seed: number,
): (run: readonly Pattern[], stopped: () => boolean) => readonly Pattern[] {
  const handling = new StickHandling(task);
  const pairable = unitTypesByItem(task).map((types) => types.some(({ whole }) => !whole));
  return (run, stopped) => {
    const full = run.filter(({ stock, segments }) => handling.of(stock, segments).kept === 0);
    const kept = run.filter((pattern) => !full.includes(pattern));
    const rails = new Map<number, number>();
    for (const { count, segments } of full)
      for (const entry of segments.flat())
        rails.set(entry.item, (rails.get(entry.item) ?? 0) + count * entry.count);
    const items = [...rails.keys()].sort((a, b) => a - b);
    if (items.length === 0) return run;
    const place = new Map(items.map((item, i) => [item, i]));
    const renumbered = (pattern: Pattern, of: (item: number) => number): Pattern => ({
      ...pattern,
      segments: pattern.segments.map((entries) =>
        entries.map((entry) => ({ ...entry, item: of(entry.item) })),
      ),
    });
    const problem: Problem = {
      items: items.map((item) => ({ weight: task.items[item]!.weight, demand: rails.get(item)!, kind: 0 })),
      stocks: task.piles.map(({ segments }) => ({ segments, costs: [1], supply: null, purchase: null })),
      kinds: null,
      goals: 1,
    };
    const given = full.map((pattern) => renumbered(pattern, (item) => place.get(item)!));
    const pairs = items.map((item) => (pairable[item] === true ? Math.floor(rails.get(item)! / 2) : 0));
    const packed = packPairs(problem, given, pairs, seed, stopped);
    const begin = packed !== null && visits(packed) < visits(given) ? packed : given;
    const pieces = begin.flatMap(({ stock, count, segments }) =>
      Array.from({ length: count }, (): Piece => ({ stock, lanes: segments })),
    );
    const found = repack(pieces, {
      problem,
      pairable: items.map((item) => pairable[item]!),
      seed,
      whole: WHOLE,
      rounds: ROUNDS_A_STICK * pieces.length,
      stopped,
    });
    const anew = found.map(({ stock, lanes }): Pattern => ({ stock, count: 1, segments: lanes }));
    return [...anew.map((pattern) => renumbered(pattern, (i) => items[i]!)), ...kept];
  };
}
