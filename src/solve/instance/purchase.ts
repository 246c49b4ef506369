import { purchaseCost } from '../price.js';
import type { Pattern, Problem, Setups, Stock } from '../problem.js';
import type { Watch } from './watch.js';

interface CountRange {
  readonly low: number;
  readonly high: number;
}

export interface Purchased {
  readonly patterns: readonly Pattern[] | null;
  readonly value: number;
  readonly bound: number;
  /** Proven: there is no plan at all. */
  readonly none: boolean;
}

/** Costs are scaled by this so that the slope of a line under a cost curve is nearly exact and still whole. */
const FINE = 1000;
const MOST_NODES = 200;
const MOST_REACH = 400_000;

/** Cost of 0, 1, 2 … used pieces; ends where no more can be bought. */
function curveOf(stock: Stock, items: number): number[] {
  const supply = stock.supply ?? Infinity;
  const most = Math.min(supply, items, MOST_REACH);
  const list = [0];
  for (let n = 1; n <= most; n++) {
    const c = purchaseCost(stock.purchase!, supply, n);
    if (c === Infinity) break;
    list.push(c);
  }
  return list;
}

/** Slope of a line under the curve from `low` on: cost(n) ≥ cost(low) + slope·(n − low)/FINE; whole. */
function slopeUnder(curve: readonly number[], { low, high }: CountRange): number {
  let slope = Infinity;
  for (let n = low + 1; n <= high; n++) {
    slope = Math.min(slope, Math.floor(((curve[n]! - curve[low]!) * FINE) / (n - low)));
  }
  return slope === Infinity ? 0 : Math.max(0, slope);
}

interface Relaxed {
  /** SearchGoal 0 in units of 1/FINE, the other goals as they are. */
  readonly problem: Problem;
  /** Stock of the relaxed problem → stock of the problem. */
  readonly origin: readonly number[];
  /** Cost already paid, times FINE. */
  readonly paid: number;
}

function fine(setups: Problem['setups']): Setups | null {
  return setups ? { item: setups.item.map((charge) => charge * FINE), piece: setups.piece * FINE } : null;
}

type Curves = readonly (readonly number[] | null)[];

/** On each span: the first `low` pieces are paid for, the others cost the slope of a line under the curve. */
function relaxed(problem: Problem, curves: Curves, spans: readonly CountRange[]): Relaxed {
  const stocks: Stock[] = [];
  const origin: number[] = [];
  let paid = 0;
  problem.stocks.forEach((stock, s) => {
    const curve = curves[s];
    const put = (cost: number, supply: number | null): void => {
      if (supply === 0) return;
      stocks.push({
        segments: stock.segments,
        costs: [cost, ...stock.costs.slice(1)],
        supply,
        purchase: null,
      });
      origin.push(s);
    };
    if (!curve) {
      put(stock.costs[0]! * FINE, stock.supply);
      return;
    }
    const span = spans[s]!;
    paid += curve[span.low]! * FINE;
    put(0, span.low);
    put(slopeUnder(curve, span), span.high - span.low);
  });
  return { problem: { ...problem, stocks, setups: fine(problem.setups) }, origin, paid };
}

function countsOf(problem: Problem, patterns: readonly Pattern[]): number[] {
  const used = problem.stocks.map(() => 0);
  for (const pattern of patterns) used[pattern.stock]! += pattern.count;
  return used;
}

/** What handling these patterns costs: of each piece, and of each item that lies on it. */
export function setupsIn({ item, piece }: Setups, patterns: readonly Pattern[]): number {
  return patterns.reduce((sum, { count, segments }) => {
    const items = new Set(
      segments.flatMap((entries) => entries.flatMap((one) => (one.count > 0 ? [one.item] : []))),
    );
    if (items.size === 0) return sum;
    return sum + count * [...items].reduce((all, i) => all + item[i]!, piece);
  }, 0);
}

/** What a plan's pieces cost under a goal, packs and price breaks counted. */
export function costUnder(problem: Problem, goal: number, patterns: readonly Pattern[]): number {
  const setups = goal === 0 && problem.setups ? setupsIn(problem.setups, patterns) : 0;
  return countsOf(problem, patterns).reduce((sum, n, s) => {
    const stock = problem.stocks[s]!;
    if (goal > 0 || !stock.purchase) return sum + n * stock.costs[goal]!;
    return sum + purchaseCost(stock.purchase, stock.supply ?? Infinity, n);
  }, setups);
}

/** Solves one goal of a problem with plain prices, the goals before it held at `limits`. */
export type SolveLinear = (problem: Problem, goal: number, limits: readonly number[]) => Purchased;

/**
 * One goal of a problem with packs and price breaks, the goals before it held at `limits`: branch and bound over how
 * many pieces of each such stock are used, the cost curve replaced on each span by a line under it. Exact when it
 * ends within its nodes, else an honest bound.
 */
export function purchased(
  problem: Problem,
  goal: number,
  limits: readonly number[],
  start: readonly Pattern[] | null,
  watch: Watch,
  solve: SolveLinear,
  report: (patterns: readonly Pattern[], value: number, bound: number) => void,
): Purchased {
  const items = problem.items.reduce((sum, item) => sum + item.demand, 0);
  const curves: Curves = problem.stocks.map((stock) => (stock.purchase ? curveOf(stock, items) : null));
  const open: { spans: readonly CountRange[]; bound: number }[] = [
    { spans: curves.map((curve) => ({ low: 0, high: curve ? curve.length - 1 : 0 })), bound: 0 },
  ];
  let best = start;
  let value = start ? costUnder(problem, goal, start) : Infinity;
  /** Least bound of a node that was closed without being solved to the end. */
  let loose = Infinity;
  let told = 0;
  for (let nodes = 0; open.length > 0; nodes++) {
    open.sort((a, b) => a.bound - b.bound);
    const floor = Math.min(loose, open[0]!.bound);
    if (best && floor > told && floor < value) report(best, value, floor);
    told = Math.max(told, floor);
    if (open[0]!.bound >= value) break;
    if (nodes >= MOST_NODES || watch.over()) break;
    const node = open.shift()!;
    const sub = relaxed(problem, curves, node.spans);
    const held = limits.map((limit, g) => (g === 0 ? limit * FINE - sub.paid : limit));
    if (held.length > 0 && held[0]! < 0) continue;
    const found = solve(sub.problem, goal, held);
    const whole = goal === 0 ? Math.ceil((found.bound + sub.paid) / FINE) : found.bound;
    const bound = Math.max(node.bound, whole);
    if (!found.patterns) {
      if (!found.none) loose = Math.min(loose, bound);
      continue;
    }
    const patterns = found.patterns.map((pattern) => ({ ...pattern, stock: sub.origin[pattern.stock]! }));
    const used = countsOf(problem, patterns);
    const kept = limits.every((limit, g) => costUnder(problem, g, patterns) <= limit);
    const cost = costUnder(problem, goal, patterns);
    if (kept && cost < value) {
      [best, value] = [patterns, cost];
      const least = Math.min(loose, bound, ...open.map((other) => other.bound));
      report(patterns, value, Math.min(value, Math.max(told, least)));
    }
    if (bound >= value) continue;
    let split = -1;
    let gap = 0;
    curves.forEach((curve, s) => {
      const span = node.spans[s]!;
      if (!curve || span.low === span.high) return;
      const line = (slopeUnder(curve, span) * Math.max(0, used[s]! - span.low)) / FINE;
      const over = curve[used[s]!]! - curve[span.low]! - line;
      if (over > gap) [split, gap] = [s, over];
    });
    if (split < 0) {
      loose = Math.min(loose, bound);
      continue;
    }
    const { low, high } = node.spans[split]!;
    const middle = Math.max(low, Math.min(used[split]!, high - 1));
    open.push({ spans: node.spans.map((span, s) => (s === split ? { low, high: middle } : span)), bound });
    open.push({
      spans: node.spans.map((span, s) => (s === split ? { low: middle + 1, high } : span)),
      bound,
    });
  }
  const rest = Math.min(loose, ...open.map((node) => node.bound));
  const bound = Math.min(rest, value);
  return {
    patterns: best,
    value,
    bound: bound === Infinity ? 0 : bound,
    none: best === null && rest === Infinity,
  };
}
