import { hasSetups, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { type Column, columnOf, fillOf } from './columns.js';

/** Patterns made at most. */
const MOST_AN_ITEM = 10;
/** Amounts that are rounding. */
const DUST = 1e-7;

/** Of fewer items patterns are met soon enough. */
const LEAST_ITEMS = 25;

/** Whether a shorter item may stand in a longer one's place at no cost, and that helps. */
export function serveSubstitutes({ n, kinds, groups }: Instance, goal: SearchGoal): boolean {
  if (n < LEAST_ITEMS || kinds || goal.unmade || hasSetups(goal)) return false;
  return groups.every(({ segments }) => segments.length === 1);
}

/** Patterns cut so many times, in parts of a piece, as the master says. */
interface Amount {
  readonly counts: Int32Array;
  readonly group: number;
  readonly whole: Column | null;
  times: number;
}

/**
 * Patterns in which shorter items stand in longer ones' places. `given[k]`: how many places of item k − 1 item k takes over,
 * items longest first, so that places are handed on; `times`: how often each column is cut. Where a piece would hold more
 * of an item than are asked for, another is looked for. Answers only columns that are new.
 */
export function substituted(
  { n, demand }: Instance,
  columns: readonly Column[],
  times: (j: number) => number,
  given: (k: number) => number,
): Column[] {
  const amounts: Amount[] = [];
  /** By item: the amounts whose patterns hold it. */
  const holding: Amount[][] = Array.from({ length: n }, () => []);
  const enter = (amount: Amount): void => {
    amounts.push(amount);
    for (let i = 0; i < n; i++) if (amount.counts[i]! > 0) holding[i]!.push(amount);
  };
  columns.forEach((column, j) => {
    if (times(j) <= DUST || column.parts.length > 1) return;
    const counts = new Int32Array(n);
    column.items.forEach((i, e) => {
      counts[i] = column.counts[e]!;
    });
    enter({ counts, group: column.group, whole: column, times: times(j) });
  });
  // A linear programme that lies could ask for any number.
  const most = columns.length + MOST_AN_ITEM * n;
  for (let k = 1; k < n; k++) {
    let left = given(k);
    const from = holding[k - 1]!.sort((a, b) => b.times - a.times);
    for (const amount of from) {
      if (left <= DUST || amounts.length > most) break;
      if (amount.times <= DUST || amount.counts[k]! >= demand[k]!) continue;
      const moved = Math.min(left, amount.times);
      const counts = amount.counts.slice();
      counts[k - 1] = counts[k - 1]! - 1;
      counts[k] = counts[k]! + 1;
      amount.times -= moved;
      left -= moved;
      enter({ counts, group: amount.group, whole: null, times: moved });
    }
  }
  return amounts
    .filter(({ whole, times: t }) => !whole && t > DUST)
    .map(({ counts, group }) => columnOf(n, group, [fillOf(counts)]));
}
