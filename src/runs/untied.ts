/**
 * Runs that stayed overfull are parted where the layout ties their sticks together less than the division had to
 * assume: which odd rails make a pair is settled only as they are laid out.
 */
import { type Layout, layOut } from '../layout/layout.js';
import { copiesByLine } from '../layout/names.js';
import { type RunPatterns, sticksOf } from '../layout/sticks.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import { begunMost, spanOf } from './begun.js';
import { type Division, gathered, grouped } from './divide.js';
import { groupOf, runsOfGroups } from './initial.js';
import { stickOf, type Turns, turnsOf } from './sawing.js';

export interface LaidDivision {
  readonly division: Division;
  readonly layout: Layout;
}

/** Sticks that share pairs or rings, directly or through others; `own` are their numbers in the layout. */
function tiedSticks(layout: Layout, own: readonly number[]): readonly (readonly number[])[] {
  const root = own.map((_, i) => i);
  const find = (at: number): number => {
    let top = at;
    while (root[top] !== top) top = root[top]!;
    root[at] = top;
    return top;
  };
  const first = new Map<unknown, number>();
  own.forEach((stick, i) => {
    for (const { unit } of layout.sticks[stick]!.lanes.flat()) {
      const other = first.get(unit);
      if (other === undefined) first.set(unit, i);
      else root[find(i)] = find(other);
    }
  });
  const groups = new Map<number, number[]>();
  for (const i of root.keys()) groups.set(find(i), [...(groups.get(find(i)) ?? []), i]);
  return [...groups.values()];
}

/** Null: there is nothing to part. */
function loosened(
  task: MouldingTask,
  turns: Turns,
  { runs, layout, bench }: { runs: readonly RunPatterns[]; layout: Layout; bench: number },
): readonly RunPatterns[] | null {
  const sticks = sticksOf(task, runs);
  const ofRun = runs.map((): number[] => []);
  for (const [stick, { run }] of sticks.entries()) ofRun[run]!.push(stick);
  let parted = false;
  const all = runs.flatMap((run, r): readonly RunPatterns[] => {
    const own = ofRun[r]!;
    // In the order of fewest begun the stops of a run hang on all its sticks.
    if (run.order !== null || own.length <= bench) return [run];
    const held = own.map((stick) => stickOf(turns, sticks[stick]!.pattern));
    if (begunMost(held.map(spanOf), turns.stopOf.length) <= bench) return [run];
    const tied = tiedSticks(layout, own);
    if (tied.length === 1) return [run];
    parted = true;
    const groups = tied.map((some) => groupOf(turns, held, some));
    const runOf = runsOfGroups(turns, own.length, groups, bench, true);
    const parts = grouped(runOf).map((some) => some.map((i) => own[i]!));
    return parts.map((some) => ({
      patterns: gathered(some.map((stick) => ({ ...sticks[stick]!.pattern, count: 1 }))),
      order: null,
    }));
  });
  return parted ? all : null;
}

/** The layout of a division, of which only runs whose sticks are all tied together overfill the bench. */
export function laidUntied(
  task: MouldingTask,
  copies: Copies,
  division: Division,
  bench: number | null,
): LaidDivision {
  const turns = turnsOf(task, copiesByLine(task, copies));
  let { runs } = division;
  // Each turn leaves more runs, and there are no more than sticks.
  for (;;) {
    const layout = layOut(task, copies, runs);
    const more = bench === null ? null : loosened(task, turns, { runs, layout, bench });
    if (more === null) return { division: { ...division, runs }, layout };
    runs = more;
  }
}
