import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { wasteWithin } from '../instance/waste.js';
import type { EndingWork } from '../instance/watch.js';
import { type Column, columnOf } from './columns.js';
import { Knapsack } from './knapsack.js';

/** A decision: two items share a piece, or do not. */
export interface Pair {
  readonly first: number;
  readonly second: number;
  readonly together: boolean;
}

/** The linear programme's duals: one an item (≥ 0), one a limited group (≤ 0, else 0), one a row of the goal (≤ 0). */
export interface RowDuals {
  readonly item: Float64Array;
  readonly supply: Float64Array;
  readonly row: Float64Array;
}

export interface Priced {
  readonly columns: readonly Column[];
  /** No plan that keeps to the decisions costs `mark` or less: proved in whole numbers. */
  readonly hopeless: boolean;
  /** Proved: no pattern is worth more than it costs. */
  readonly none: boolean;
}

/** Duals in whole numbers, and what a pattern of each group may be worth at them. */
interface Whole {
  readonly item: Float64Array;
  readonly supply: Float64Array;
  readonly row: Float64Array;
  readonly allow: Float64Array;
}

/** Duals are whole in units of 1 / scale; a pattern's worth has to stay an exact double. */
const MOST_SCALE = 2 ** 34;
const MOST_WORTH = 2 ** 47;
/** Share by which a pattern must be worth more than it costs. */
const GAIN = 1e-7;
const MOST_CANDIDATES = 60;
const MOST_ALIKE = 4;
/** Before a pair is decided: tables filled again in a round for columns unlike those found, and from how many of them on. */
const MOST_LAYERS = 2;
const MANY_COLUMNS = 6;
const CANDIDATE_NODES = 1_000;
const PROOF_NODES = 300_000;
/** Nodes of the search for all columns that a plan may use. */
const LISTING_NODES = 1_000_000;

/**
 * Pricing under decided pairs: items that share a piece are one item, of their joint length and worth; items that do
 * not are kept apart in the search, while the table gives a bound without that rule. So decisions do not slow pricing.
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
  private readonly scale: number;
  private readonly waste: number;
  private joined: number[][] = [];
  private decided = false;
  private readonly leader: Int32Array;
  /** Of the last pricing, and the most that a pattern was proven to be worth; null where it was not. */
  private last: { readonly whole: Whole; readonly worth: number } | null = null;

  constructor(
    private readonly plain: Instance,
    private readonly goal: SearchGoal,
    private readonly mark: number,
    work: EndingWork,
  ) {
    const { n } = plain;
    this.merged = {
      weight: plain.weight.slice(),
      gridWeight: plain.gridWeight.slice(),
      apart: new Uint8Array(n * n),
    };
    this.instance = { ...plain, ...this.merged };
    this.waste = wasteWithin(plain, goal, plain.demand, mark);
    this.knapsack = new Knapsack(this.instance, work);
    this.most = new Int32Array(n);
    this.values = new Float64Array(n);
    this.leader = new Int32Array(n);
    const dearest = Math.max(1, mark, ...goal.cost);
    this.scale = Math.max(1, Math.min(MOST_SCALE, 2 ** Math.floor(Math.log2(MOST_WORTH / dearest))));
    this.decide([]);
  }

  /** Whether a plan of cost ≤ mark may hold the column. */
  matters({ group, items, counts }: Column): boolean {
    const { weight, groups } = this.plain;
    const used = items.reduce((sum, i, k) => sum + weight[i]! * counts[k]!, 0);
    return groups[group]!.segments[0]! - used <= this.waste;
  }

  /** The first of the items that share item i's piece by decision. */
  leaderOf(i: number): number {
    return this.leader[i]!;
  }

  /** Sets the decided pairs. */
  decide(pairs: readonly Pair[]): void {
    const { n, weight, demand, unit } = this.plain;
    const { leader } = this;
    this.decided = pairs.length > 0;
    for (let i = 0; i < n; i++) leader[i] = i;
    const find = (i: number): number => {
      let at = i;
      while (leader[at] !== at) at = leader[at]!;
      return at;
    };
    for (const { first, second, together } of pairs) {
      const [a, b] = [find(first), find(second)];
      if (together && a !== b) leader[Math.max(a, b)] = Math.min(a, b);
    }
    this.joined = Array.from({ length: n }, () => []);
    for (let i = 0; i < n; i++) {
      leader[i] = find(i);
      this.joined[leader[i]!]!.push(i);
    }
    this.joined.forEach((members, i) => {
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

  private whole({ item, supply, row }: RowDuals): Whole {
    const { goal, plain, scale } = this;
    const up = (dual: number): number => Math.ceil(Math.max(0, -dual) * scale);
    const [paid, held] = [supply.map(up), row.map(up)];
    const allow = Float64Array.from(plain.groups, (_, s) =>
      goal.rows.reduce(
        (sum, { weights }, r) => sum + weights[s]! * held[r]!,
        goal.cost[s]! * scale + paid[s]!,
      ),
    );
    return {
      item: item.map((dual) => Math.floor(Math.max(0, dual) * scale)),
      supply: paid,
      row: held,
      allow,
    };
  }

  /**
   * Whether the demand is worth more than all that a plan of cost ≤ mark can hold, a pattern of group s being worth at
   * most `worth[s]`: with the least λ for which λ·cost and the limits' duals cover every worth, by weak duality.
   */
  private hopeless({ item, supply, row, allow }: Whole, worth: Float64Array): boolean {
    const { goal, plain, mark, scale } = this;
    // Not where a library's duals are not numbers, or too large to be exact.
    const whole = [item, supply, row, allow, worth].every((values) => values.every(Number.isSafeInteger));
    if (!whole) return false;
    let rate = 0n;
    plain.groups.forEach((_, s) => {
      const cost = BigInt(goal.cost[s]!);
      const rest = BigInt(worth[s]!) - (BigInt(allow[s]!) - cost * BigInt(scale));
      if (rest > rate * cost) rate = (rest + cost - 1n) / cost;
    });
    let most = rate * BigInt(mark);
    plain.groups.forEach((group, s) => {
      if (group.supply !== Infinity) most += BigInt(supply[s]!) * BigInt(group.supply);
    });
    goal.rows.forEach(({ limit }, r) => {
      most += BigInt(row[r]!) * BigInt(limit);
    });
    let needed = 0n;
    plain.demand.forEach((d, i) => {
      needed += BigInt(item[i]!) * BigInt(d);
    });
    return needed > most;
  }

  price(duals: RowDuals): Priced {
    const { joined, values, most, knapsack } = this;
    const { groups, n } = this.plain;
    const whole = this.whole(duals);
    joined.forEach((members, i) => {
      values[i] = members.reduce((sum, member) => sum + whole.item[member]!, 0);
    });
    knapsack.load(values, most, this.waste);
    const worth = Float64Array.from(groups, ({ segments }) => knapsack.upper(segments[0]!));
    if (this.hopeless(whole, worth)) return { columns: [], hopeless: true, none: false };
    const least = whole.allow.map((e) => Math.floor(e * (1 + GAIN)));
    const used = new Int32Array(n);
    const columns: Column[] = [];
    const none = this.collect(whole, least, columns, used);
    const rest = most.slice();
    const layers = this.decided ? 0 : MOST_LAYERS;
    for (let more = 0, known = 0; more < layers && columns.length - known >= MANY_COLUMNS; more++) {
      known = columns.length;
      // Rails of this round's columns left out: what comes next is unlike them.
      for (let i = 0; i < n; i++) if (joined[i]!.some((member) => used[member]! > 0)) rest[i] = 0;
      knapsack.load(values, rest, this.waste);
      this.collect(whole, least, columns, used);
    }
    // Every pattern has a first item, and no first item leads to a pattern worth more.
    if (none) for (let s = 0; s < groups.length; s++) worth[s] = Math.min(worth[s]!, least[s]!);
    this.last = { whole, worth: worth[0]! };
    return { columns, hopeless: none && this.hopeless(whole, worth), none };
  }

  /**
   * Every column that a plan of cost ≤ mark may use, by the duals priced last, before any decision: `k` pieces are worth at
   * most k times the best pattern and have to be worth the demand, so one that falls short by more than all of them may is in
   * no plan (reduced-cost fixing). For one group without limit and no rows of the goal; null where they are more than `most`.
   */
  within(most: number): Column[] | null {
    const { plain, goal, mark, knapsack, last, values } = this;
    const { groups, demand, n } = plain;
    if (!last || this.decided || groups.length !== 1 || groups[0]!.supply !== Infinity) return null;
    if (goal.rows.length > 0 || plain.unit !== 1) return null;
    const { item } = last.whole;
    if (!item.every(Number.isSafeInteger) || !Number.isSafeInteger(last.worth)) return null;
    const pieces = BigInt(Math.floor(mark / goal.cost[0]!));
    let needed = 0n;
    demand.forEach((d, i) => {
      needed += BigInt(item[i]!) * BigInt(d);
    });
    const least = Number(needed - (pieces - 1n) * BigInt(last.worth));
    if (!Number.isSafeInteger(least) || least <= 0) return null;
    const capacity = groups[0]!.segments[0]!;
    values.set(item);
    // A rail worth nothing has its place in a plan, too; the table leaves it out where a whole stick may be wasted.
    knapsack.load(values, demand, Math.min(this.waste, capacity - 1));
    const columns: Column[] = [];
    knapsack.search(capacity, least - 1, LISTING_NODES, -1, (items, counts, size) => {
      const held: [item: number, count: number][] = [];
      for (let d = 0; d < size; d++) if (counts[d]! > 0) held.push([items[d]!, counts[d]!]);
      const part = { items: Int32Array.from(held, ([i]) => i), counts: Int32Array.from(held, ([, c]) => c) };
      columns.push(columnOf(n, 0, [part]));
      return columns.length <= most;
    });
    return knapsack.complete ? columns : null;
  }

  /** Adds the best column of each first item, by the table as it is loaded; whether none is proven to be there. */
  private collect(whole: Whole, least: Float64Array, columns: Column[], used: Int32Array): boolean {
    const { most, knapsack } = this;
    const { groups, n } = this.plain;
    const candidates: { s: number; i: number; profit: number }[] = [];
    groups.forEach(({ segments }, s) => {
      for (let i = 0; i < n; i++) {
        const value = most[i]! > 0 ? knapsack.upperFrom(i, segments[0]!) : -1;
        if (value > least[s]!) candidates.push({ s, i, profit: value - whole.allow[s]! });
      }
    });
    candidates.sort((a, b) => b.profit - a.profit || a.i - b.i);
    let none = true;
    const exact = this.plain.unit === 1;
    for (const { s, i } of candidates) {
      if (columns.length >= MOST_CANDIDATES) break;
      const capacity = groups[s]!.segments[0]!;
      // On an exact table the best pattern lies straight ahead, unless it holds a pair that is kept apart.
      const straight = exact && knapsack.straight(i, capacity) >= 0;
      if (!straight) {
        const nodes = columns.length > 0 ? CANDIDATE_NODES : PROOF_NODES;
        if (knapsack.search(capacity, least[s]!, nodes, i) < 0) {
          none &&= knapsack.complete;
          continue;
        }
      }
      none = false;
      const column = this.found(s);
      if (column.items.some((item) => used[item]! >= MOST_ALIKE)) continue;
      for (const item of column.items) used[item]!++;
      columns.push(column);
    }
    return none;
  }

  private found(s: number): Column {
    const { found } = this.knapsack;
    const held: [item: number, count: number][] = [];
    for (let i = 0; i < found.length; i++) {
      if (found[i]! > 0) for (const member of this.joined[i]!) held.push([member, found[i]!]);
    }
    held.sort(([a], [b]) => a - b);
    const items = Int32Array.from(held, ([item]) => item);
    return columnOf(this.plain.n, s, [{ items, counts: Int32Array.from(held, ([, count]) => count) }]);
  }
}
