/** Between the caller's stocks and items and those of the instance, where equal stocks are one and items are sorted. */
import type { Instance } from '../instance/instance.js';
import type { Pattern, Problem } from '../problem.js';
import { type Cutting, columnOf, lengthOf } from './columns.js';

/** Patterns of the problem as columns of the instance; those that fit no piece of it are left out. */
export function inward(instance: Instance, patterns: readonly Pattern[]): Cutting[] {
  const group = new Map<number, number>();
  instance.groups.forEach((l, s) => {
    for (const member of l.members) group.set(member, s);
  });
  const place = new Map([...instance.order].map((item, i) => [item, i]));
  const cuttings: Cutting[] = [];
  for (const pattern of patterns) {
    const s = group.get(pattern.stock);
    if (s === undefined || pattern.segments.length > instance.groups[s]!.segments.length) continue;
    const parts = Array.from(instance.groups[s]!.segments, (_, k) => {
      const entries = (pattern.segments[k] ?? [])
        .map(({ item, count }) => ({ i: place.get(item) ?? -1, count }))
        .filter(({ i, count }) => i >= 0 && count > 0)
        .sort((a, b) => a.i - b.i);
      return {
        items: Int32Array.from(entries, (entry) => entry.i),
        counts: Int32Array.from(entries, (entry) => Math.min(entry.count, instance.demand[entry.i]!)),
      };
    });
    const fits = parts.every((part, k) => lengthOf(instance, part) <= instance.groups[s]!.segments[k]!);
    if (fits) cuttings.push({ column: columnOf(instance.n, s, parts), times: pattern.count });
  }
  return cuttings;
}

/** A plan's columns as patterns of the problem, equal pieces shared out among its stocks in their order. */
export function outward(problem: Problem, instance: Instance, plan: readonly Cutting[]): Pattern[] {
  const left = new Map<number, number>();
  for (const [s, stock] of problem.stocks.entries()) left.set(s, stock.supply ?? Infinity);
  const patterns: Pattern[] = [];
  for (const { column, times } of plan) {
    let rest = times;
    for (const stock of instance.groups[column.group]!.members) {
      const count = Math.min(rest, left.get(stock)!);
      if (count <= 0) continue;
      left.set(stock, left.get(stock)! - count);
      rest -= count;
      const segments = column.parts.map((part) =>
        Array.from(part.items, (i, e) => ({ item: instance.order[i]!, count: part.counts[e]! })).sort(
          (a, b) => a.item - b.item,
        ),
      );
      patterns.push({ stock, count, segments });
    }
  }
  return patterns;
}
