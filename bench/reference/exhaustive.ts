/**
 * The exact optimum of a tiny problem by dynamic programming over what is still to be cut: whole numbers only, no
 * linear programming. Stocks are used one after the other; within a stock, layers count its pieces, so supplies,
 * packs and price tiers are exact. Goals are compared lexicographically, which additive costs keep sound.
 */
import type { Problem, Stock } from '../../src/solve/problem.js';
import { segmentPatterns, stockCost } from './patterns.js';

type Values = readonly number[];

export interface Exhausted {
  /** Least value of each goal, earlier goals first; null when no plan exists. */
  readonly values: Values | null;
}

/** How many states of remaining demand the problem has: the work grows with it. */
export function stateCount(problem: Problem): number {
  return problem.items.reduce((product, item) => product * (item.demand + 1), 1);
}

export function exhaustive(problem: Problem): Exhausted {
  const codec = new Codec(problem);
  let best: (Values | null)[] = new Array<Values | null>(codec.states).fill(null);
  best[codec.states - 1] = new Array<number>(problem.goals).fill(0);
  const demand = problem.items.reduce((sum, item) => sum + item.demand, 0);
  for (const stock of problem.stocks) best = afterStock(problem, stock, codec, best, demand);
  return { values: best[0] ?? null };
}

function afterStock(
  problem: Problem,
  stock: Stock,
  codec: Codec,
  before: readonly (Values | null)[],
  demand: number,
): (Values | null)[] {
  const cuts = pieceYields(problem, stock, codec);
  const after = [...before];
  let layer = before;
  const most = Math.min(stock.supply ?? Infinity, demand);
  for (let pieces = 1; pieces <= most; pieces++) {
    const next = new Array<Values | null>(codec.states).fill(null);
    for (const [state, values] of layer.entries()) {
      if (values === null) continue;
      for (const cut of cuts) {
        if (!codec.holds(state, cut)) continue;
        const to = state - cut;
        if (better(values, next[to] ?? null)) next[to] = values;
      }
    }
    const cost = Array.from({ length: problem.goals }, (_, goal) => stockCost(stock, goal, pieces));
    if (cost[0] === Infinity) break;
    for (const [state, values] of next.entries()) {
      if (values === null) continue;
      const total = values.map((value, goal) => value + (cost[goal] ?? 0));
      if (better(total, after[state] ?? null)) after[state] = total;
    }
    layer = next;
  }
  return after;
}

/** Codes of everything one piece can yield, over all its segments, nothing beyond the demand and never nothing. */
function pieceYields(problem: Problem, stock: Stock, codec: Codec): number[] {
  let yields = new Set<number>([0]);
  for (const capacity of stock.segments) {
    const wider = new Set<number>();
    const patterns = segmentPatterns(problem, capacity).map((counts) => codec.encode(counts));
    for (const have of yields)
      for (const more of patterns) if (codec.fitsTogether(have, more)) wider.add(have + more);
    yields = wider;
  }
  yields.delete(0);
  return [...yields];
}

function better(a: Values, b: Values | null): boolean {
  if (b === null) return true;
  for (const [goal, value] of a.entries()) {
    const other = b[goal] ?? 0;
    if (value !== other) return value < other;
  }
  return false;
}

/** Count vectors within the demand as mixed-radix numbers. */
class Codec {
  readonly states: number;
  readonly #strides: number[] = [];
  readonly #radix: number[];

  constructor(problem: Problem) {
    this.#radix = problem.items.map((item) => item.demand + 1);
    let stride = 1;
    for (const radix of this.#radix) {
      this.#strides.push(stride);
      stride *= radix;
    }
    this.states = stride;
  }

  encode(counts: readonly number[]): number {
    return counts.reduce((code, count, i) => code + count * (this.#strides[i] ?? 0), 0);
  }

  #digit(code: number, i: number): number {
    return Math.floor(code / (this.#strides[i] ?? 1)) % (this.#radix[i] ?? 1);
  }

  holds(state: number, cut: number): boolean {
    for (let i = 0; i < this.#radix.length; i++)
      if (this.#digit(state, i) < this.#digit(cut, i)) return false;
    return true;
  }

  fitsTogether(a: number, b: number): boolean {
    for (const [i, radix] of this.#radix.entries())
      if (this.#digit(a, i) + this.#digit(b, i) >= radix) return false;
    return true;
  }
}
