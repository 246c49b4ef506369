/** Items by group: neighbours in the cutting order that are cut one after the other, at one setting and angle. */
import type { CutItem } from '../stock/task.js';

function sameGroup(a: CutItem, b: CutItem): boolean {
  return a.setting === b.setting && a.second === b.second && a.kind === b.kind;
}

export function groupsOf(items: readonly CutItem[]): readonly (readonly number[])[] {
  const groups: number[][] = [];
  items.forEach((item, i) => {
    const last = groups.at(-1);
    if (last !== undefined && sameGroup(items[last[0]!]!, item)) last.push(i);
    else groups.push([i]);
  });
  return groups;
}
