/**
 * Sticks that must share a run, since a pair or a ring lies on several of them: odd rails are put together in the order
 * of the sticks, as the layout does.
 */
import type { HeldRails, Turns } from './sawing.js';

/** For each stick the least stick it is tied to, directly or through others. */
export function tiesOf(turns: Turns, sticks: readonly HeldRails[]): Int32Array {
  const root = Int32Array.from(sticks.keys());
  const find = (at: number): number => {
    let top = at;
    while (root[top] !== top) top = root[top]!;
    for (let next = at; next !== top; ) {
      const up = root[next]!;
      root[next] = top;
      next = up;
    }
    return top;
  };
  const over = turns.together.map(() => 0);
  const last = turns.together.map(() => -1);
  sticks.forEach(({ items, counts }, stick) => {
    items.forEach((item, i) => {
      const bundle = turns.together[item]! * (turns.loose[item]! >= 0 ? 2 : 1);
      const rest = counts[i]! % bundle;
      if (rest === 0) return;
      if (over[item]! > 0) {
        const [a, b] = [find(last[item]!), find(stick)];
        root[Math.max(a, b)] = Math.min(a, b);
      }
      over[item] = (over[item]! + rest) % bundle;
      last[item] = stick;
    });
  });
  return root.map((_, stick) => find(stick));
}
