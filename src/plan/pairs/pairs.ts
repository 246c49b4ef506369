/** Pairs of rails as items of a problem of their own, and its patterns as those of the problem itself. */
import type { Item, Pattern, PatternEntry, Problem } from '../../solve/problem.js';

/** An item of the problem with tied pairs that stands for `rails` of one item of the original. */
export interface TiedItem {
  readonly item: number;
  readonly rails: number;
}

export interface TiedProblem {
  readonly problem: Problem;
  readonly tied: readonly TiedItem[];
}

/** Of `counts`, one an item, a share in whole numbers, spread so that the sums over the first items keep to it too. */
export function shareOf(counts: readonly number[], share: number): readonly number[] {
  let sum = 0;
  return counts.map((count) => {
    const before = Math.round(sum);
    sum += count * share;
    return Math.min(count, Math.round(sum) - before);
  });
}

/** `kept` pairs of each item as items of their own, the rest as single rails. */
export function tiePairs(problem: Problem, kept: readonly number[]): TiedProblem {
  const items: Item[] = [];
  const tied: TiedItem[] = [];
  problem.items.forEach((item, i) => {
    const pairs = kept[i]!;
    if (pairs > 0) {
      items.push({ ...item, weight: 2 * item.weight, demand: pairs });
      tied.push({ item: i, rails: 2 });
    }
    if (item.demand > 2 * pairs) {
      items.push({ ...item, demand: item.demand - 2 * pairs });
      tied.push({ item: i, rails: 1 });
    }
  });
  return { problem: { ...problem, items }, tied };
}

/** A pattern of the problem with tied pairs in single rails. */
export function untied(pattern: Pattern, tied: readonly TiedItem[]): Pattern {
  const segments = pattern.segments.map((entries) => {
    const counts = new Map<number, number>();
    for (const { item, count } of entries) {
      const { item: own, rails } = tied[item]!;
      counts.set(own, (counts.get(own) ?? 0) + count * rails);
    }
    return [...counts].map(([item, count]): PatternEntry => ({ item, count }));
  });
  return { ...pattern, segments };
}

/** A pattern of the problem as one of pairs, what is odd as single rails; a start for the search, not a plan. */
export function inPairs(pattern: Pattern, tied: readonly TiedItem[]): Pattern {
  const place = new Map(tied.map(({ item, rails }, i) => [`${item}/${rails}`, i]));
  const segments = pattern.segments.map((entries) =>
    entries.flatMap(({ item, count }): PatternEntry[] => {
      const [pair, single] = [place.get(`${item}/2`), place.get(`${item}/1`)];
      const pairs =
        pair === undefined ? 0 : single === undefined ? Math.ceil(count / 2) : Math.floor(count / 2);
      return [
        ...(pair === undefined || pairs === 0 ? [] : [{ item: pair, count: pairs }]),
        ...(single === undefined || count <= 2 * pairs ? [] : [{ item: single, count: count - 2 * pairs }]),
      ];
    }),
  );
  return { ...pattern, segments };
}
