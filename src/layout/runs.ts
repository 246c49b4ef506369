/** Items by run: neighbours in the cutting order that are cut in one go, at one setting and angle. */
import type { CutItem } from '../stock/task.js';

function sameRun(a: CutItem, b: CutItem): boolean {
  return a.setting === b.setting && a.second === b.second && a.kind === b.kind;
}

export function runsOf(items: readonly CutItem[]): readonly (readonly number[])[] {
  const runs: number[][] = [];
  items.forEach((item, i) => {
    const last = runs.at(-1);
    if (last !== undefined && sameRun(items[last[0]!]!, item)) last.push(i);
    else runs.push([i]);
  });
  return runs;
}
