/** Divides the sticks of a moulding into runs that the bench holds. */
import { copiesByLine } from '../layout/names.js';
import { inOneRun, type RunPatterns } from '../layout/sticks.js';
import type { Pattern } from '../solve/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Saw } from '../terms.js';
import { begunMost, type Span, spanOf } from './begun.js';
import { type StickTurns, stickOf, turnsOf } from './sawing.js';
import { tiesOf } from './ties.js';

/** One pattern a stick. */
function singly(patterns: readonly Pattern[]): readonly Pattern[] {
  return patterns.flatMap((pattern) =>
    Array.from({ length: pattern.count }, () => ({ ...pattern, count: 1 })),
  );
}

/** The longest setting first, then the next: sticks that share long settings come together. */
function byTurns(a: StickTurns, b: StickTurns): number {
  for (let i = 0; i < a.items.length; i++) {
    const by = a.items[i]! - (b.items[i] ?? Number.POSITIVE_INFINITY) || (b.counts[i] ?? 0) - a.counts[i]!;
    if (by !== 0) return by;
  }
  return a.items.length - b.items.length;
}

export interface Division {
  readonly runs: readonly RunPatterns[];
  /** However the same pieces are cut and divided, stops are set no less often. */
  readonly bound: number;
}

export function divide(
  task: MouldingTask,
  copies: Copies,
  patterns: readonly Pattern[],
  saw: Pick<Saw, 'bench' | 'order'>,
): Division {
  const turns = turnsOf(task, copiesByLine(task, copies));
  const places = turns.stopOf.length;
  const bench = saw.bench ?? Number.POSITIVE_INFINITY;
  const spans = patterns.flatMap((pattern) => {
    const span = spanOf(stickOf(turns, pattern));
    return Array.from({ length: pattern.count }, () => span);
  });
  const used = new Set(patterns.flatMap((pattern) => stickOf(turns, pattern).stops));
  const bound = [...used].reduce((sum, stop) => sum + turns.weight[stop]!, 0);
  if (spans.length <= bench || begunMost(spans, places) <= bench) return { runs: inOneRun(patterns), bound };
  const sticks = singly(patterns)
    .map((pattern) => ({ pattern, stick: stickOf(turns, pattern) }))
    .sort((a, b) => byTurns(a.stick, b.stick));
  const ties = tiesOf(
    turns,
    sticks.map(({ stick }) => stick),
  );
  const tied = new Map<number, number[]>();
  ties.forEach((tie, at) => {
    const known = tied.get(tie);
    if (known === undefined) tied.set(tie, [at]);
    else known.push(at);
  });
  const runs: { patterns: Pattern[]; spans: Span[] }[] = [];
  for (const group of tied.values()) {
    const own = group.map((at) => spanOf(sticks[at]!.stick));
    const last = runs.at(-1);
    const full = last === undefined || begunMost([...last.spans, ...own], places) > bench;
    const run = full ? { patterns: [], spans: [] } : last;
    if (full) runs.push(run);
    run.spans.push(...own);
    run.patterns.push(...group.map((at) => sticks[at]!.pattern));
  }
  return { runs: runs.map((run) => ({ patterns: run.patterns, order: null })), bound };
}
