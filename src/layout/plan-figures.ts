/** How easy whole plans of one moulding are to cut, and which of two is easier. */
import type { Pattern } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';
import { type StickFigures, StickHandling } from './stick-handling.js';

export interface PlanFigures extends StickFigures {
  readonly layouts: number;
}

/** `patterns` as `tidy` gives them: one for each layout. */
export function planFigures(task: MouldingTask, patterns: readonly Pattern[]): PlanFigures {
  const handling = new StickHandling(task);
  let [kept, visits, apart] = [0, 0, 0];
  for (const { stock, count, segments } of patterns) {
    const one = handling.of(stock, segments);
    kept += count * one.kept;
    visits += count * one.visits;
    apart += count * one.apart;
  }
  return { kept, visits, apart, layouts: patterns.length };
}

/** In the order of `STEPS`: long offcuts, then visits, layouts, and rails apart. */
export function easierToCut(a: PlanFigures, b: PlanFigures): boolean {
  return (b.kept - a.kept || a.visits - b.visits || a.layouts - b.layouts || a.apart - b.apart) < 0;
}
