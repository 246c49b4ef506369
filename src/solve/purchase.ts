import { type Cutting, usage } from './columns.js';
import type { CountRow, Goal } from './goal.js';
import type { Instance } from './instance.js';
import type { Problem, Purchase, SolveOptions } from './problem.js';
import type { Found } from './search.js';

/** What n used pieces cost to buy: whole packs, and more than needed where a price break makes that cheaper. */
export function purchaseCost(purchase: Purchase, supply: number, n: number): number {
  if (n === 0) return 0;
  const { pack, tiers } = purchase;
  const priceAt = (m: number): number => {
    let price = tiers[0]!.price;
    for (const tier of tiers) if (m >= tier.from) price = tier.price;
    return price;
  };
  const up = (m: number): number => Math.ceil(m / pack) * pack;
  let best = Infinity;
  // Within a tier the cost grows with the number, so only the least number in each can be the cheapest.
  for (const m of [up(n), ...tiers.filter((tier) => tier.from > n).map((tier) => up(tier.from))]) {
    if (m >= n && m <= supply) best = Math.min(best, m * priceAt(m));
  }
  return best;
}

/** Pieces of unlimited supply are never needed in greater number than there are items. */
function reach(instance: Instance, s: number): number {
  const items = instance.demand.reduce((sum, d) => sum + d, 0);
  return Math.min(instance.lanes[s]!.supply, items);
}

interface Span {
  readonly low: number;
  readonly high: number;
}

const FINE = 1000;
const MOST_NODES = 60;
const MOST_REACH = 20_000;

/** Line under the cost curve on a span: cost(n) ≥ at + slope·(n − low)/FINE for every n in it; slope whole. */
function underline(cost: readonly number[], span: Span): { at: number; slope: number } {
  const at = cost[span.low]!;
  let slope = Infinity;
  for (let n = span.low + 1; n <= span.high; n++) {
    slope = Math.min(slope, Math.floor(((cost[n]! - at) * FINE) / (n - span.low)));
  }
  return { at, slope: slope === Infinity ? 0 : Math.max(0, slope) };
}

/**
 * Goal 0 with packs and price breaks: branch and bound over how many pieces of each such stock are used, the cost
 * curve replaced on each span by a line under it. Exact when it ends within its nodes, else an honest bound.
 */
export function purchased(
  problem: Problem,
  instance: Instance,
  goal: Goal,
  start: readonly Cutting[] | null,
  run: (goal: Goal, start: readonly Cutting[] | null) => Found,
  options: SolveOptions,
): Found {
  const lanes = instance.lanes;
  const curves = lanes.map((lane, s) => {
    const purchase = problem.stocks[lane.members[0]!]!.purchase;
    if (!purchase) return null;
    const most = Math.min(reach(instance, s), MOST_REACH);
    const list = [0];
    for (let n = 1; n <= most; n++) {
      const c = purchaseCost(purchase, lane.supply, n);
      if (c === Infinity) break;
      list.push(c);
    }
    return list;
  });
  const trueCost = (plan: readonly Cutting[]): number =>
    usage(instance, plan).reduce((sum, n, s) => {
      if (n === 0) return sum;
      const curve = curves[s];
      return sum + (curve ? (curve[n] ?? Infinity) : n * goal.cost[s]!);
    }, 0);
  let best: readonly Cutting[] | null = null;
  let value = Infinity;
  const root = curves.map((curve) => ({ low: 0, high: curve ? curve.length - 1 : 0 }));
  const open: { spans: Span[]; bound: number }[] = [{ spans: root, bound: 0 }];
  let nodes = 0;
  let proven = Infinity;
  while (open.length > 0) {
    open.sort((a, b) => a.bound - b.bound);
    const node = open.shift()!;
    if (node.bound >= value) break;
    if (nodes++ >= MOST_NODES || options.now() >= options.deadline || options.stopped?.() === true) {
      proven = Math.min(proven, node.bound);
      break;
    }
    const lines = curves.map((curve, s) => (curve ? underline(curve, node.spans[s]!) : null));
    let fixed = 0;
    const rows: CountRow[] = [];
    const cost = lanes.map((_, s) => {
      const line = lines[s];
      const span = node.spans[s]!;
      if (!line) return goal.cost[s]! * FINE;
      fixed += line.at * FINE - line.slope * span.low;
      const own = lanes.map((__, t) => (t === s ? 1 : 0));
      rows.push({ weights: own, limit: span.high });
      if (span.low > 0) rows.push({ weights: own.map((w) => -w), limit: -span.low });
      return line.slope;
    });
    const found = run({ cost, rows, unmade: null }, best ?? start);
    const bound = Math.max(node.bound, Math.ceil((found.bound + fixed) / FINE));
    if (!found.plan) {
      // No plan found in this span: without a proof that there is none, its bound stands.
      proven = Math.min(proven, bound);
      continue;
    }
    const whole = trueCost(found.plan);
    if (whole < value) [best, value] = [found.plan, whole];
    if (bound >= value) continue;
    const used = usage(instance, found.plan);
    let split = -1;
    let gap = 0;
    curves.forEach((curve, s) => {
      const line = lines[s];
      if (!curve || !line || node.spans[s]!.low === node.spans[s]!.high) return;
      const n = used[s]!;
      const over = curve[n]! - line.at - (line.slope * (n - node.spans[s]!.low)) / FINE;
      if (over > gap) [split, gap] = [s, over];
    });
    if (split < 0) {
      proven = Math.min(proven, bound);
      continue;
    }
    const { low, high } = node.spans[split]!;
    const n = used[split]!;
    const middle = n < high ? n : n - 1;
    open.push({ spans: node.spans.map((span, s) => (s === split ? { low, high: middle } : span)), bound });
    open.push({
      spans: node.spans.map((span, s) => (s === split ? { low: middle + 1, high } : span)),
      bound,
    });
  }
  const rest = open.reduce((least, node) => Math.min(least, node.bound), Infinity);
  const bound = Math.min(proven, rest, value);
  return { plan: best === null ? null : [...best], value, bound: bound === Infinity ? 0 : bound };
}
