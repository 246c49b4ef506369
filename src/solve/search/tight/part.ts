import { type Column, columnOf } from '../../columns/columns.js';
import type { Instance } from '../../instance/instance.js';

/** Cells of a pricing table over a part, at most: 96 MB. */
const MOST_CELLS = 12_100_000;

/** Some rails of an instance as an instance of their own, on an exact grid: a search over them is smaller. */
export interface RailPart {
  readonly instance: Instance;
  /** Columns of the part are columns of the whole, and the other way round where all their rails are in the part. */
  outward(column: Column): Column;
  inward(column: Column): Column | null;
}

/** Whether a pricing table over so many rails fits. */
export function holdsPart({ largest }: Instance, items: number): boolean {
  return (items + 1) * (largest + 1) <= MOST_CELLS;
}

/** The part with this demand; items of demand 0 are not in it. */
export function partOf(whole: Instance, demand: Int32Array): RailPart {
  const places: number[] = [];
  for (let i = 0; i < whole.n; i++) if (demand[i]! > 0) places.push(i);
  const place = new Int32Array(whole.n).fill(-1);
  places.forEach((i, at) => {
    place[i] = at;
  });
  const pick = (from: Int32Array): Int32Array => Int32Array.from(places, (i) => from[i]!);
  const weight = Float64Array.from(places, (i) => whole.weight[i]!);
  const instance: Instance = {
    ...whole,
    n: places.length,
    weight,
    demand: pick(demand),
    kind: pick(whole.kind),
    order: pick(whole.order),
    unit: 1,
    cells: whole.largest,
    gridWeight: Int32Array.from(weight),
    apart: null,
  };
  const renamed = (n: number, { group, items, counts }: Column, names: ArrayLike<number>): Column =>
    columnOf(n, group, [{ items: items.map((i) => names[i]!), counts }]);
  return {
    instance,
    outward: (column) => renamed(whole.n, column, places),
    inward: (column) =>
      column.items.every((i, e) => place[i]! >= 0 && column.counts[e]! <= demand[i]!)
        ? renamed(places.length, column, place)
        : null,
  };
}

/** Takes a column's rails to the demand, so many times; answers how many rails are on it. */
export function changeDemand(demand: Int32Array, column: Column, times: number): number {
  column.items.forEach((i, e) => {
    demand[i]! += times * column.counts[e]!;
  });
  return column.counts.reduce((sum, count) => sum + count, 0);
}
