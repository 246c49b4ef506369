import type { Instance } from '../instance/instance.js';

/** Some items with their counts, parallel arrays; counts are positive. */
export interface Fill {
  readonly items: Int32Array;
  readonly counts: Int32Array;
}

/** A pattern as a column of the master: the items one piece of a group yields, in all and by segment. */
export interface Column extends Fill {
  readonly group: number;
  readonly parts: readonly Fill[];
}

/** Columns with how often each is cut. */
export interface Cutting {
  readonly column: Column;
  readonly times: number;
}

export function fillOf(counts: Int32Array): Fill {
  let size = 0;
  for (const c of counts) if (c > 0) size++;
  const items = new Int32Array(size);
  const amounts = new Int32Array(size);
  for (let i = 0, k = 0; i < counts.length; i++) {
    if (counts[i]! > 0) {
      items[k] = i;
      amounts[k++] = counts[i]!;
    }
  }
  return { items, counts: amounts };
}

export function columnOf(n: number, group: number, parts: readonly Fill[]): Column {
  if (parts.length === 1) return { group, items: parts[0]!.items, counts: parts[0]!.counts, parts };
  const sum = new Int32Array(n);
  for (const part of parts)
    for (let e = 0; e < part.items.length; e++) sum[part.items[e]!]! += part.counts[e]!;
  return { group, ...fillOf(sum), parts };
}

/** Length a fill takes, kinds' extras included (see problem.ts). */
export function lengthOf(instance: Instance, fill: Fill): number {
  const { weight, kind, kinds } = instance;
  let total = 0;
  let last = -1;
  for (let e = 0; e < fill.items.length; e++) {
    const i = fill.items[e]!;
    total += fill.counts[e]! * weight[i]!;
    if (kinds) {
      const own = kind[i]!;
      total += last < 0 ? kinds.start[own]! : kinds.joint[last]![own]!;
      total += (fill.counts[e]! - 1) * kinds.joint[own]![own]!;
      last = own;
    }
  }
  return total;
}

export function keyOf(column: Column): string {
  const parts = column.parts.map((part) => `${part.items.join()}:${part.counts.join()}`);
  return `${column.group}|${parts.join('/')}`;
}

/** How many pieces of each group are used; pieces that yield nothing do not count. */
export function usage(instance: Instance, cuttings: readonly Cutting[]): Float64Array {
  const used = new Float64Array(instance.groups.length);
  for (const { column, times } of cuttings) if (column.items.length > 0) used[column.group]! += times;
  return used;
}

function less(n: number, column: Column, item: number, count: number): Column {
  let rest = count;
  const parts = column.parts.map((part) => {
    const amounts = new Int32Array(n);
    for (let e = 0; e < part.items.length; e++) amounts[part.items[e]!] = part.counts[e]!;
    const taken = Math.min(rest, amounts[item]!);
    amounts[item]! -= taken;
    rest -= taken;
    return fillOf(amounts);
  });
  return columnOf(n, column.group, parts);
}

function amountIn(column: Column, item: number): number {
  const at = column.items.indexOf(item);
  return at < 0 ? 0 : column.counts[at]!;
}

/**
 * Takes away what exceeds the demand, from the columns cut least often first, and merges equal columns. Where kinds
 * make order matter, taking an item out of a pattern never makes it longer (joint extras obey the triangle rule of
 * the geometry they come from), so the rest still fits.
 */
export function trim(instance: Instance, cuttings: readonly Cutting[]): Cutting[] {
  const excess = Int32Array.from(instance.demand, (d) => -d);
  for (const { column, times } of cuttings) {
    for (let e = 0; e < column.items.length; e++) excess[column.items[e]!]! += column.counts[e]! * times;
  }
  let list = cuttings.filter((cutting) => cutting.times > 0);
  for (let i = 0; i < instance.n; i++) {
    if (excess[i]! <= 0) continue;
    const next: Cutting[] = [];
    for (const cutting of [...list].sort((a, b) => a.times - b.times)) {
      const amount = amountIn(cutting.column, i);
      let left = excess[i]!;
      if (amount === 0 || left === 0) {
        next.push(cutting);
        continue;
      }
      const whole = Math.min(cutting.times, Math.floor(left / amount));
      left -= whole * amount;
      if (whole > 0) next.push({ column: less(instance.n, cutting.column, i, amount), times: whole });
      let rest = cutting.times - whole;
      if (left > 0 && rest > 0) {
        next.push({ column: less(instance.n, cutting.column, i, left), times: 1 });
        left = 0;
        rest--;
      }
      if (rest > 0) next.push({ column: cutting.column, times: rest });
      excess[i] = left;
    }
    list = next;
  }
  const merged = new Map<string, Cutting>();
  for (const { column, times } of list) {
    if (column.items.length === 0) continue;
    const key = keyOf(column);
    merged.set(key, { column, times: times + (merged.get(key)?.times ?? 0) });
  }
  return [...merged.values()];
}

/** Whether the cuttings make at least the demand within the supplies. */
export function serves(instance: Instance, cuttings: readonly Cutting[]): boolean {
  const missing = Float64Array.from(instance.demand);
  const used = usage(instance, cuttings);
  for (const { column, times } of cuttings) {
    for (let e = 0; e < column.items.length; e++) missing[column.items[e]!]! -= column.counts[e]! * times;
  }
  return missing.every((m) => m <= 0) && instance.groups.every((group, s) => used[s]! <= group.supply);
}
