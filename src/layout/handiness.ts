/** How handy whole plans of one moulding are, and which of two is the handier. */
import type { Pattern } from '../solve/problem.js';
import type { MouldingTask } from '../stock/task.js';
import { type Handiness, Handling } from './handling.js';

export interface Handy extends Handiness {
  readonly layouts: number;
}

/** `patterns` as `tidy` gives them: one for each layout. */
export function handinessOf(task: MouldingTask, patterns: readonly Pattern[]): Handy {
  const handling = new Handling(task);
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
export function handier(a: Handy, b: Handy): boolean {
  return (b.kept - a.kept || a.visits - b.visits || a.layouts - b.layouts || a.apart - b.apart) < 0;
}
