/**
 * The plan of last resort, for when the engine gave none in its time: one stick after the other, each filled with
 * the first items that fit. It proves nothing, uses no library, and ends.
 */
import type { Engine } from '../solve/engine.js';
import { purchaseCost } from '../solve/price.js';
import type {
  Outcome,
  Pattern,
  PatternEntry,
  Problem,
  Proof,
  SolveOptions,
  Stock,
} from '../solve/problem.js';

interface Filled {
  readonly stock: number;
  readonly segments: readonly (readonly PatternEntry[])[];
  /** Weight of the items on it. */
  readonly used: number;
  /** How often the remaining demand and the supply allow it. */
  readonly times: number;
}

/** One segment, filled in cutting order from `left`, which is lowered. */
function fillSegment(problem: Problem, capacity: number, left: number[]): PatternEntry[] {
  const { items, kinds } = problem;
  const entries: PatternEntry[] = [];
  let room = capacity;
  let last = -1;
  for (let i = 0; i < items.length; i++) {
    const { weight, kind } = items[i]!;
    const most = left[i]!;
    if (most === 0) continue;
    const enter = kinds === null ? 0 : last < 0 ? kinds.start[kind]! : kinds.joint[last]![kind]!;
    const again = weight + (kinds === null ? 0 : kinds.joint[kind]![kind]!);
    if (room < enter + weight) continue;
    const count = Math.min(most, 1 + Math.floor((room - enter - weight) / again));
    room -= enter + weight + (count - 1) * again;
    left[i] = most - count;
    entries.push({ item: i, count });
    last = kind;
  }
  return entries;
}

function fill(problem: Problem, stock: number, left: readonly number[], supply: number): Filled | null {
  const rest = [...left];
  const segments = problem.stocks[stock]!.segments.map((capacity) => fillSegment(problem, capacity, rest));
  let used = 0;
  let times = supply;
  for (let i = 0; i < rest.length; i++) {
    const taken = left[i]! - rest[i]!;
    if (taken === 0) continue;
    used += taken * problem.items[i]!.weight;
    times = Math.min(times, Math.floor(left[i]! / taken));
  }
  return used === 0 ? null : { stock, segments, used, times };
}

/** Whether filling `a` costs less for what it holds than `b`, goal by goal. */
function cheaper(problem: Problem, a: Filled, b: Filled): boolean {
  for (let goal = 0; goal < problem.goals; goal++) {
    const costA = problem.stocks[a.stock]!.costs[goal]! * b.used;
    const costB = problem.stocks[b.stock]!.costs[goal]! * a.used;
    if (costA !== costB) return costA < costB;
  }
  return a.used > b.used;
}

function proofsOf(problem: Problem, counts: readonly number[]): Proof[] {
  const cost = (stock: Stock, count: number, goal: number): number =>
    goal === 0 && stock.purchase !== null
      ? purchaseCost(stock.purchase, stock.supply ?? Number.POSITIVE_INFINITY, count)
      : count * stock.costs[goal]!;
  return Array.from({ length: problem.goals }, (_, goal) => {
    const value = problem.stocks.reduce(
      (sum, stock, i) => sum + (counts[i]! === 0 ? 0 : cost(stock, counts[i]!, goal)),
      0,
    );
    return { status: value === 0 ? 'optimal' : 'unproven', value, bound: 0 };
  });
}

function solve(problem: Problem, { onImproved }: SolveOptions): Outcome {
  const left = problem.items.map(({ demand }) => demand);
  const supply = problem.stocks.map((stock) => stock.supply ?? Number.POSITIVE_INFINITY);
  const counts = problem.stocks.map(() => 0);
  const patterns: Pattern[] = [];
  while (left.some((count) => count > 0)) {
    let best: Filled | null = null;
    for (let s = 0; s < problem.stocks.length; s++) {
      if (supply[s]! <= 0) continue;
      const filled = fill(problem, s, left, supply[s]!);
      if (filled !== null && (best === null || cheaper(problem, filled, best))) best = filled;
    }
    if (best === null) return { kind: 'none', proven: false, work: 0 };
    const { stock, segments, times } = best;
    patterns.push({ stock, segments, count: times });
    supply[stock]! -= times;
    counts[stock]! += times;
    for (const entries of segments) for (const { item, count } of entries) left[item]! -= count * times;
  }
  const solved = { kind: 'solved', patterns, proofs: proofsOf(problem, counts), work: 0 } as const;
  onImproved?.(solved);
  return solved;
}

export const firstFit: Engine = { solve };
