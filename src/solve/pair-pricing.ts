import { type Column, columnOf } from './columns.js';
import type { Instance } from './instance.js';
import { Knapsack } from './knapsack.js';

/** Two items that share a piece, or do not. */
export interface Pair {
  readonly first: number;
  readonly second: number;
  readonly together: boolean;
}

export interface Priced {
  readonly columns: readonly Column[];
  /** No pattern is worth more for its cost than this. */
  readonly rate: number;
  /** Nothing was found, and that is proved. */
  readonly none: boolean;
}

/** Duals are whole in units of cost / SCALE. */
const SCALE = 2 ** 34;
const MOST_CANDIDATES = 60;
const MOST_ALIKE = 4;
const CANDIDATE_NODES = 1_000;
const PROOF_NODES = 300_000;

/**
 * Pricing under decided pairs: items that share a piece are one item, of their joint length and worth; items that do
 * not are kept apart in the search, while the table bounds it without that. So a decision costs pricing nothing.
 */
export class PairPricing {
  private readonly merged: {
    weight: Float64Array;
    gridWeight: Int32Array;
    apart: Uint8Array;
  };
  private readonly knapsack: Knapsack;
  private readonly instance: Instance;
  private readonly most: Int32Array;
  private readonly values: Float64Array;
  private groups: number[][] = [];

  constructor(private readonly plain: Instance) {
    const { n } = plain;
    this.merged = {
      weight: plain.weight.slice(),
      gridWeight: plain.gridWeight.slice(),
      apart: new Uint8Array(n * n),
    };
    this.instance = { ...plain, ...this.merged };
    this.knapsack = new Knapsack(this.instance);
    this.most = new Int32Array(n);
    this.values = new Float64Array(n);
    this.decide([]);
  }

  /** From now on these pairs are decided. */
  decide(pairs: readonly Pair[]): void {
    const { n, weight, demand, unit } = this.plain;
    const leader = Int32Array.from({ length: n }, (_, i) => i);
    const find = (i: number): number => {
      let at = i;
      while (leader[at] !== at) at = leader[at]!;
      return at;
    };
    for (const { first, second, together } of pairs) {
      const [a, b] = [find(first), find(second)];
      if (together && a !== b) leader[Math.max(a, b)] = Math.min(a, b);
    }
    this.groups = Array.from({ length: n }, () => []);
    for (let i = 0; i < n; i++) this.groups[find(i)]!.push(i);
    this.groups.forEach((members, i) => {
      let sum = 0;
      for (const member of members) sum += weight[member]!;
      this.most[i] = members.length === 0 ? 0 : demand[i]!;
      this.merged.weight[i] = members.length === 0 ? weight[i]! : sum;
      this.merged.gridWeight[i] = Math.floor(this.merged.weight[i]! / unit);
    });
    this.merged.apart.fill(0);
    for (const { first, second, together } of pairs) {
      if (together) continue;
      const [a, b] = [find(first), find(second)];
      this.merged.apart[a * n + b] = 1;
      this.merged.apart[b * n + a] = 1;
    }
  }

  /** `duals`: one an item, ≥ 0; `allow[s]`: what a pattern of lane s may be worth. */
  price(duals: Float64Array, allow: Float64Array): Priced {
    const { groups, values, most, knapsack } = this;
    const { lanes, n } = this.plain;
    groups.forEach((members, i) => {
      let sum = 0;
      for (const member of members) sum += Math.max(0, Math.floor(duals[member]! * SCALE));
      values[i] = sum;
    });
    knapsack.load(values, most);
    const candidates: { s: number; i: number; profit: number }[] = [];
    let rate = 0;
    lanes.forEach(({ segments }, s) => {
      const capacity = segments[0]!;
      const e = allow[s]! * SCALE;
      rate = Math.max(rate, (knapsack.upper(capacity) + n) / Math.max(e, 1e-9));
      for (let i = 0; i < n; i++) {
        const profit = most[i]! > 0 ? knapsack.upperFrom(i, capacity) - e : -1;
        if (profit > e * 1e-7) candidates.push({ s, i, profit });
      }
    });
    candidates.sort((a, b) => b.profit - a.profit || a.i - b.i);
    const used = new Int32Array(n);
    const columns: Column[] = [];
    let none = true;
    for (const { s, i } of candidates) {
      if (columns.length >= MOST_CANDIDATES) break;
      const e = allow[s]! * SCALE;
      const nodes = columns.length > 0 ? CANDIDATE_NODES : PROOF_NODES;
      const value = knapsack.search(lanes[s]!.segments[0]!, e * (1 + 1e-7), nodes, i);
      if (value < 0) {
        none &&= knapsack.complete;
        continue;
      }
      const column = this.found(s);
      if (column.items.some((item) => used[item]! >= MOST_ALIKE)) continue;
      for (const item of column.items) used[item]!++;
      columns.push(column);
    }
    return { columns, rate, none: none && columns.length === 0 };
  }

  private found(s: number): Column {
    const counts = new Int32Array(this.plain.n);
    this.knapsack.found.forEach((count, i) => {
      if (count > 0) for (const member of this.groups[i]!) counts[member] = count;
    });
    const items = Int32Array.from(counts.keys()).filter((i) => counts[i]! > 0);
    return columnOf(this.plain.n, s, [{ items, counts: items.map((i) => counts[i]!) }]);
  }
}
