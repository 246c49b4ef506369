/** Patterns become physical sticks: like ones together, in the order they are cut, each with the piece it is cut from. */
import type { Pattern, PatternEntry } from '../solve/problem.js';
import type { MouldingTask, Source } from '../stock/task.js';

/** Sticks cut to the end before those of the next run are begun. */
export interface RunPatterns {
  readonly patterns: readonly Pattern[];
  /** Groups of items (`groupsOf`) in the order of work; null: the longest setting first. */
  readonly order: readonly number[] | null;
}

export function inOneRun(patterns: readonly Pattern[]): readonly RunPatterns[] {
  return [{ patterns, order: null }];
}

/** A stick with its pattern, before its rails have names. */
export interface CutStick {
  /** From 0. */
  readonly run: number;
  readonly source: Source;
  readonly copy: number;
  /** Per lane of the source: items and counts in cutting order; one object for all sticks cut alike. */
  readonly lanes: readonly (readonly PatternEntry[])[];
}

function countsByItem(pattern: Pattern, items: number): readonly number[] {
  const counts = new Array<number>(items).fill(0);
  for (const segment of pattern.segments) for (const { item, count } of segment) counts[item]! += count;
  return counts;
}

/** Sticks with most of the longest setting first, so that a setting's sticks stand next to each other. */
function byContent(a: readonly number[], b: readonly number[]): number {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return b[i]! - a[i]!;
  return 0;
}

/** Hands out the pieces of each pile, source by source. */
function dispenser(task: MouldingTask): (pile: number) => { readonly source: Source; readonly copy: number } {
  const next = task.piles.map(() => ({ source: 0, copy: 1 }));
  return (pile) => {
    const at = next[pile]!;
    const source = task.piles[pile]!.sources[at.source];
    if (source === undefined) throw new RangeError(`pile ${pile} has no piece left`);
    const copy = at.copy;
    if (source.copies !== null && copy >= source.copies) next[pile] = { source: at.source + 1, copy: 1 };
    else at.copy += 1;
    return { source, copy };
  };
}

/** A run's patterns in the order in which its sticks are laid out. */
export function asLaidOut(task: MouldingTask, patterns: readonly Pattern[]): readonly Pattern[] {
  return patterns
    .filter((pattern) => pattern.count > 0 && pattern.segments.some((segment) => segment.length > 0))
    .map((pattern) => ({
      pattern,
      counts: countsByItem(pattern, task.items.length),
      form: JSON.stringify(pattern.segments),
    }))
    .sort(
      (a, b) =>
        byContent(a.counts, b.counts) ||
        a.pattern.stock - b.pattern.stock ||
        (a.form < b.form ? -1 : a.form > b.form ? 1 : 0),
    )
    .map(({ pattern }) => pattern);
}

/** The sticks of a plan, run by run. Patterns count items by the task's numbers. */
export function sticksOf(task: MouldingTask, runs: readonly RunPatterns[]): readonly CutStick[] {
  const take = dispenser(task);
  return runs.flatMap(({ patterns }, run) =>
    asLaidOut(task, patterns).flatMap((pattern) => {
      const pile = task.piles[pattern.stock]!;
      // Sources of one pile agree in the lanes that serve, not in how many others they have.
      const lanes = Array.from({ length: (pile.lanes.at(-1) ?? -1) + 1 }, (_, lane) => {
        const segment = pattern.segments[pile.lanes.indexOf(lane)] ?? [];
        return segment.filter(({ count }) => count > 0).toSorted((a, b) => a.item - b.item);
      });
      return Array.from({ length: pattern.count }, () => ({ run, ...take(pattern.stock), lanes }));
    }),
  );
}
