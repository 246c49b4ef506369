import type { Kinds, Problem } from '../problem.js';

/** A stock of the instance; equal stocks of the problem are one here, so that like rack pieces make no symmetry. */
export interface StockGroup {
  /** Indices of the problem's stocks that are this one, in order. */
  readonly members: readonly number[];
  readonly segments: Float64Array;
  /** Infinity: unlimited. */
  readonly supply: number;
}

/**
 * A problem ready for the search: items in the order the patterns are built in (heaviest first; the cutting order
 * where kinds make order matter), equal stocks merged, and a grid on which the knapsack tables stand.
 *
 * Grid: with unit q, Σ w ≤ C implies Σ ⌊w/q⌋ ≤ ⌊C/q⌋, so a table over the grid never values a pattern too low.
 */
export interface Instance {
  readonly n: number;
  readonly weight: Float64Array;
  readonly demand: Int32Array;
  readonly kind: Int32Array;
  /** Instance item → problem item. */
  readonly order: Int32Array;
  readonly kinds: Kinds | null;
  readonly groups: readonly StockGroup[];
  readonly largest: number;
  readonly unit: number;
  readonly cells: number;
  readonly gridWeight: Int32Array;
  /** n × n, 1 for items that may not share a piece; null for none. Only the knapsack's search keeps to it. */
  readonly apart: Uint8Array | null;
}

/** Most table cells (8 bytes each) a knapsack table may take: 96 MB. */
const MOST_CELLS = 12_000_000;
/** Beyond this the grid is coarsened even where memory would allow the exact one: a table is filled every round. */
const EXACT_CELLS = 6_000_000;
const FINE_CELLS = 3_000_000;
/** No grid needs to be finer than this: the search keeps the exact room. */
const FINEST = 10_000;
/** How far a difference of rounded weights may be off, and steps the least difference may be. */
const ROUNDED = 1.5;
const GAP_PARTS = 8;
/** Parts of a stop step that a grid is fine by at most, and how many of them cost as much as losing a step a stick. */
const MOST_PARTS = 24;
const PARTS_A_STEP = 30;
/** Cells of the grid for a last proof: the stop step of a 12 ft stick in some thirty parts. */
const SHARPEST = 160_000;

function gcd(a: number, b: number): number {
  while (b !== 0) [a, b] = [b, a % b];
  return a;
}

/**
 * The length that the differences of the weights are near multiples of (a stop step), or 0 where there is none. Weights are
 * steps rounded to whole numbers, so a difference is off by one at most; the estimate is fitted anew with each.
 */
export function commonStep(weights: readonly number[], least: number): number {
  const sorted = [...new Set(weights)].sort((a, b) => a - b);
  let gap = Infinity;
  for (let k = 1; k < sorted.length; k++) gap = Math.min(gap, sorted[k]! - sorted[k - 1]!);
  for (let parts = 1; parts <= GAP_PARTS && gap / parts >= least; parts++) {
    const step = fitted(sorted, gap, parts);
    if (step >= least) return step;
  }
  return 0;
}

/** The step of which `gap` is `parts`, if all differences fit; else 0. */
function fitted(sorted: readonly number[], gap: number, parts: number): number {
  let cross = gap * parts;
  let square = parts * parts;
  let most = parts;
  for (let k = 1; k < sorted.length; k++) {
    const d = sorted[k]! - sorted[0]!;
    const step = cross / square;
    const times = Math.round(d / step);
    // The estimate is off by some 1 in `most` steps.
    const doubt = ROUNDED * (1 + times / most);
    if (doubt > step / 3 || Math.abs(d - times * step) > doubt) return 0;
    cross += d * times;
    square += times * times;
    most = Math.max(most, times);
  }
  return cross / square;
}

/** Share of the weights that rounding down to this unit loses, summed over the items. */
function lossOf(weights: ArrayLike<number>, unit: number): number {
  let lost = 0;
  for (let i = 0; i < weights.length; i++) {
    const cells = weights[i]! / unit;
    lost += (cells - Math.floor(cells)) / cells;
  }
  return lost;
}

/** The grid unit that loses least when the weights are rounded down to it, among those with few enough cells. */
function chooseUnit(weights: readonly number[], largest: number, cells: number, roof: number): number {
  const coarsest = largest / cells;
  const step = commonStep(weights, coarsest / 8);
  const candidates = [coarsest];
  if (step > 0) {
    for (let p = 1; p <= 64 && (largest * p) / step <= roof; p++) {
      for (const shrink of [0, 1e-6, 1e-5, 1e-4]) candidates.push((step / p) * (1 - shrink));
    }
  }
  let best = Math.max(coarsest, 1);
  let least = Infinity;
  for (const unit of candidates) {
    if (unit < 1) continue;
    const lost = lossOf(weights, unit);
    if (lost < least) [least, best] = [lost, unit];
  }
  return best;
}

/** A grid that is quick to fill: a table is filled every round of pricing. */
function quickUnit(weights: readonly number[], largest: number): number {
  const n = weights.length;
  if ((largest + 1) * (n + 1) <= EXACT_CELLS) return 1;
  const cells = Math.max(512, Math.min(FINEST, Math.floor(FINE_CELLS / (n + 1))));
  const plain = chooseUnit(weights, largest, cells, Math.min(MOST_CELLS / (n + 1), 2 * cells));
  return onStep(weights, largest, MOST_CELLS / (n + 1), plain);
}

/**
 * Rails are so many stop steps and a constant. Some part of the step nearly divides the constant too, and on that grid
 * next to nothing is lost: worth many more cells. The best part, or `plain` where no part is better.
 */
function onStep(weights: readonly number[], largest: number, most: number, plain: number): number {
  const step = commonStep(weights, largest / most);
  if (step === 0) return plain;
  // What a full stick loses, in steps, and what cells cost.
  const score = (unit: number): number =>
    ((lossOf(weights, unit) / weights.length) * largest) / step + step / unit / PARTS_A_STEP;
  let [best, least] = [plain, score(plain)];
  for (let p = 1; p <= MOST_PARTS && (largest * p) / step < most - 1; p++) {
    for (const shrink of [0, 1e-6, 1e-5, 1e-4]) {
      const unit = (step / p) * (1 - shrink);
      if (unit >= 1 && score(unit) < least) [best, least] = [unit, score(unit)];
    }
  }
  return best;
}

function onGrid(
  weight: Float64Array,
  largest: number,
  unit: number,
): Pick<Instance, 'unit' | 'cells' | 'gridWeight'> {
  return {
    unit,
    cells: Math.floor(largest / unit),
    gridWeight: Int32Array.from(weight, (w) => Math.floor(w / unit)),
  };
}

/** The same instance on the finest grid the memory allows, for a last proof; null where that would lose hardly less. */
export function refined(instance: Instance): Instance | null {
  const { weight, largest, n, unit } = instance;
  const cells = Math.min(SHARPEST, Math.floor(MOST_CELLS / (n + 1)) - 1);
  if (unit === 1 || cells <= instance.cells) return null;
  const finer = largest + 1 <= cells ? 1 : chooseUnit([...weight], largest, cells, cells);
  if (lossOf(weight, finer) > lossOf(weight, unit) / 2) return null;
  return { ...instance, ...onGrid(weight, largest, finer) };
}

function mergeStocks(problem: Problem): { members: number[]; segments: number[]; supply: number }[] {
  const merged = new Map<string, { members: number[]; segments: number[]; supply: number }>();
  problem.stocks.forEach((stock, s) => {
    const supply = stock.supply ?? Infinity;
    if (supply === 0) return;
    const key = stock.purchase ? `own ${s}` : JSON.stringify([stock.segments, stock.costs]);
    const known = merged.get(key);
    if (known) {
      known.members.push(s);
      known.supply += supply;
    } else merged.set(key, { members: [s], segments: [...stock.segments], supply });
  });
  return [...merged.values()];
}

/** Most of each item that one piece holds, and that is asked for. */
export function fitsOf({ n, weight, demand, groups }: Instance): Int32Array {
  const fits = new Int32Array(n);
  for (const { segments } of groups) {
    for (let i = 0; i < n; i++) {
      const most = segments.reduce((sum, capacity) => sum + Math.floor(capacity / weight[i]!), 0);
      fits[i] = Math.max(fits[i]!, Math.min(demand[i]!, most));
    }
  }
  return fits;
}

/** Items of one weight and kind stay apart: the problem's author may need them apart. */
export function prepare(problem: Problem): Instance {
  const n = problem.items.length;
  const order = Int32Array.from(problem.items.keys());
  const items = problem.items;
  if (!problem.kinds) order.sort((a, b) => items[b]!.weight - items[a]!.weight || a - b);
  const merged = mergeStocks(problem);
  // Without kinds a common divisor of the weights shortens every capacity to its whole part.
  const divisor = problem.kinds ? 1 : items.reduce((g, item) => gcd(g, item.weight), 0) || 1;
  const groups = merged.map((group) => ({
    members: group.members,
    supply: group.supply,
    segments: Float64Array.from(group.segments, (c) => Math.floor(c / divisor)),
  }));
  const weight = Float64Array.from(order, (i) => items[i]!.weight / divisor);
  const largest = groups.reduce((most, group) => Math.max(most, ...group.segments), 0);
  const unit = n > 0 ? quickUnit([...weight], largest) : 1;
  return {
    n,
    weight,
    demand: Int32Array.from(order, (i) => items[i]!.demand),
    kind: Int32Array.from(order, (i) => items[i]!.kind),
    order,
    kinds: problem.kinds,
    groups,
    largest,
    ...onGrid(weight, largest, unit),
    apart: null,
  };
}
