import { allowance, chargesOf, type Duals } from '../bounds/bound.js';
import { columnCost, columnWeight, type SearchGoal } from '../instance/goal.js';
import { type Instance, refined } from '../instance/instance.js';
import { programmeWork, type Work } from '../instance/watch.js';
import type { Lp, LpFactory, LpOptimal } from '../lp/lp.js';
import { type Column, type Cutting, columnOf, type Fill, fillOf, keyOf } from './columns.js';
import { Knapsack } from './knapsack.js';

interface Candidate {
  readonly group: number;
  readonly first: number;
  readonly profit: number;
}

/** Nodes a search for one candidate may take where the grid only bounds it. */
const CANDIDATE_NODES = 1_000;
/** Searches in a row that find nothing before a round that has found something ends. */
const MOST_MISSES = 20;
const PROOF_NODES = 60_000;

/**
 * No piece of these segments is worth more. An item that lies on several of them is charged in each by the table, but
 * due once a piece: that much is given back.
 */
export function worthOf(knapsack: Knapsack, segments: Float64Array, charges: Float64Array | null): number {
  let worth = 0;
  for (const capacity of segments) worth += knapsack.upper(capacity);
  if (charges && segments.length > 1) worth += (segments.length - 1) * charges.reduce((sum, f) => sum + f, 0);
  return worth;
}

/**
 * The restricted master problem (Gilmore and Gomory 1961) with its columns and its pricing. Rows: one an item
 * (made ≥ needed), one a limited group, one a count row of the goal. Column j < n leaves one of item j unmade, dear
 * enough not to be wanted; the others are patterns. Costs are scaled by the dearest group for the LP's sake only.
 */
export class Master {
  readonly columns: Column[] = [];
  private readonly known = new Map<string, number>();
  private readonly lp: Lp;
  private readonly dear: number;
  private readonly scale: number;
  private readonly supplyRow: Int32Array;
  private readonly closed = new Set<number>();
  readonly unmade: Float64Array;
  answer: LpOptimal | null = null;
  /** The knapsack priced with: `knapsack`, or a finer one for a last proof. */
  private pricing: Knapsack;
  private fine: Knapsack | null | undefined;

  constructor(
    readonly instance: Instance,
    readonly goal: SearchGoal,
    readonly knapsack: Knapsack,
    factory: LpFactory,
    private readonly work: Work,
  ) {
    const { n, groups, demand, weight, largest } = instance;
    this.pricing = knapsack;
    const dearest = Math.max(0, ...(goal.setup ?? []));
    const top = Math.max(1, ...goal.cost, ...(goal.unmade ?? [])) + dearest;
    const limited = groups.some((group) => group.supply !== Infinity) || goal.rows.length > 0;
    this.dear = top;
    const unmade = limited ? 50 * top : 2 * top;
    this.unmade = Float64Array.from(weight, (_, i) => goal.unmade?.[i] ?? unmade);
    // Duals stay below the cost of leaving an item out; a pattern's worth must stay an exact double.
    const items = Math.max(1, Math.floor(largest / Math.max(1, Math.min(...weight))));
    const room = 2 ** 52 / (unmade * items);
    this.scale = Math.max(1, Math.min(2 ** 44, 2 ** Math.floor(Math.log2(Math.max(1, room)))));
    this.supplyRow = new Int32Array(groups.length).fill(-1);
    const rows = Array.from(demand, (d) => ({ lower: d, upper: Infinity }));
    groups.forEach((group, s) => {
      if (group.supply !== Infinity) {
        this.supplyRow[s] = rows.length;
        rows.push({ lower: -Infinity, upper: group.supply });
      }
    });
    this.rowStart = rows.length;
    this.rowScale = goal.rows.map((row) => Math.max(1, ...row.weights.map(Math.abs), ...(row.setup ?? [])));
    goal.rows.forEach((row, r) => {
      rows.push({ lower: -Infinity, upper: row.limit / this.rowScale[r]! });
    });
    this.rows = rows.length;
    this.lp = factory.create(rows);
    for (let i = 0; i < n; i++) {
      this.lp.addColumn(this.unmade[i]! / this.dear, Int32Array.of(i), Float64Array.of(1));
    }
  }

  private readonly rows: number;
  private readonly rowStart: number;
  private readonly rowScale: readonly number[];

  dispose(): void {
    this.lp.dispose();
  }

  /** Index of the column, which is added unless known. */
  add(column: Column): number {
    const key = keyOf(column);
    const at = this.known.get(key);
    if (at !== undefined) return at;
    const { goal } = this;
    const rows = [...column.items];
    const values = [...column.counts];
    if (this.supplyRow[column.group]! >= 0) {
      rows.push(this.supplyRow[column.group]!);
      values.push(1);
    }
    for (let r = 0; r < goal.rows.length; r++) {
      const weight = columnWeight(goal.rows[r]!, column);
      if (weight !== 0) {
        rows.push(this.rowStart + r);
        values.push(weight / this.rowScale[r]!);
      }
    }
    const cost = columnCost(goal, column) / this.dear;
    this.lp.addColumn(cost, Int32Array.from(rows), Float64Array.from(values));
    this.known.set(key, this.columns.length);
    return this.columns.push(column) - 1;
  }

  /** Solves the master; null when the LP library failed. The objective is in units of the goal. */
  solve(seconds: number): LpOptimal | null {
    this.work.spend(programmeWork(this.rows));
    const result = this.lp.solve(seconds);
    const sound =
      result.status === 'optimal' &&
      Number.isFinite(result.objective) &&
      result.duals.length === this.rows &&
      result.x.length === this.instance.n + this.columns.length &&
      result.duals.every(Number.isFinite) &&
      result.x.every(Number.isFinite);
    this.answer = sound ? { ...result, objective: result.objective * this.dear } : null;
    return this.answer;
  }

  /** Value of column j of `columns` in the last answer. */
  at(j: number): number {
    return this.answer!.x[this.instance.n + j]!;
  }

  /** Whether the last answer leaves something unmade. */
  leavesOut(): boolean {
    for (let i = 0; i < this.instance.n; i++) if (this.answer!.x[i]! > 1e-7) return true;
    return false;
  }

  /** Sets what is still to be made and used; columns that make more than that of an item are out of use. */
  restrict(demand: Int32Array, used: Float64Array, fixed: readonly Cutting[] = []): void {
    const { groups, n } = this.instance;
    for (let i = 0; i < n; i++) this.lp.setRow(i, demand[i]!, Infinity);
    for (let s = 0; s < groups.length; s++) {
      if (this.supplyRow[s]! >= 0)
        this.lp.setRow(this.supplyRow[s]!, -Infinity, groups[s]!.supply - used[s]!);
    }
    this.goal.rows.forEach((row, r) => {
      let spent = row.weights.reduce((sum, w, s) => sum + w * used[s]!, 0);
      if (row.setup)
        for (const { column, times } of fixed)
          spent += times * (columnWeight(row, column) - row.weights[column.group]!);
      this.lp.setRow(this.rowStart + r, -Infinity, (row.limit - spent) / this.rowScale[r]!);
    });
    for (let j = 0; j < this.columns.length; j++) {
      const { items, counts } = this.columns[j]!;
      let fits = true;
      for (let e = 0; e < items.length && fits; e++) fits = counts[e]! <= demand[items[e]!]!;
      if (fits === this.closed.has(j)) {
        this.lp.setUpper(n + j, fits ? Infinity : 0);
        if (fits) this.closed.delete(j);
        else this.closed.add(j);
      }
    }
  }

  /** Prices on the finest grid from now on; false when that is no better or is so already. */
  sharpen(): boolean {
    if (this.fine === undefined) {
      const finer = refined(this.instance);
      this.fine = finer && new Knapsack(finer, this.work);
    }
    if (!this.fine || this.pricing === this.fine) return false;
    this.pricing = this.fine;
    return true;
  }

  blunt(): void {
    this.pricing = this.knapsack;
  }

  /** The answer's duals in whole numbers; `worth` is filled by `price`. */
  duals(): Duals {
    const { n, groups } = this.instance;
    const { scale, dear, answer } = this;
    const d = answer!.duals;
    const item = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      item[i] = Math.min(Math.max(0, Math.floor(d[i]! * dear * scale)), this.unmade[i]! * scale);
    }
    const supply = Float64Array.from(groups, (_, s) =>
      this.supplyRow[s]! < 0 ? 0 : Math.min(0, Math.ceil(d[this.supplyRow[s]!]! * dear * scale)),
    );
    const row = Float64Array.from(this.goal.rows, (_, r) =>
      Math.min(0, Math.ceil((d[this.rowStart + r]! * dear * scale) / this.rowScale[r]!)),
    );
    return { scale, item, supply, row, worth: new Float64Array(groups.length) };
  }

  /**
   * Adds up to `most` diverse patterns worth more than they cost at these duals, at most `demand` of an item in
   * each; fills `duals.worth` with proven upper bounds. Answers how many were added.
   */
  price(duals: Duals, demand: Int32Array, most: number, waste = Infinity): number {
    const { instance, pricing: knapsack, goal } = this;
    const { groups, n, unit } = instance;
    const charges = chargesOf(goal, duals);
    knapsack.load(duals.item, demand, waste, charges);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const candidates: Candidate[] = [];
    const allow = new Float64Array(groups.length);
    const known = this.columns.length;
    let added = 0;
    for (let s = 0; s < groups.length; s++) {
      const segments = groups[s]!.segments;
      const e = allowance(goal, duals, s);
      allow[s] = e;
      duals.worth[s] = worthOf(knapsack, segments, charges);
      if (duals.worth[s]! <= e + slack) continue;
      if (segments.length > 1) {
        added += this.priceSegments(s, e + slack);
        continue;
      }
      const capacity = segments[0]!;
      if (unit !== 1 || instance.kinds) {
        // The table only bounds: look for a true pattern, and if there is none above the price, that is proved.
        const value = knapsack.search(capacity, e, PROOF_NODES);
        if (knapsack.complete) duals.worth[s] = Math.max(value, e);
        if (knapsack.complete && value <= e + slack) continue;
        if (value > e + slack) {
          const before = this.columns.length;
          if (this.add(columnOf(n, s, [fillOf(knapsack.found)])) === before) added++;
        }
      }
      for (let i = 0; i < n; i++) {
        if (demand[i]! <= 0 || (duals.item[i]! <= 0 && waste === Infinity)) continue;
        const value = knapsack.upperFrom(i, capacity);
        if (value > e + slack) candidates.push({ group: s, first: i, profit: (value - e) / (e + slack) });
      }
    }
    return added + this.pick(candidates, allow, slack, most, known);
  }

  /** `known`: how many columns there were before this round. */
  private pick(
    candidates: Candidate[],
    allow: Float64Array,
    slack: number,
    most: number,
    known: number,
  ): number {
    const { instance, pricing: knapsack } = this;
    candidates.sort((a, b) => b.profit - a.profit || a.group - b.group || a.first - b.first);
    const used = new Int32Array(instance.n);
    const perGroup = new Int32Array(instance.groups.length);
    let added = 0;
    let misses = 0;
    for (const { group, first, profit } of candidates) {
      if (added >= most) break;
      if (perGroup[group]! >= 2 + 2 * Math.min(instance.groups[group]!.supply, most)) continue;
      const e = allow[group]!;
      const capacity = instance.groups[group]!.segments[0]!;
      const top = profit * (e + slack) + e;
      let value = -1;
      if (instance.unit === 1 && !instance.kinds) {
        value = knapsack.search(capacity, Math.max(e + slack, top - 2 * slack), CANDIDATE_NODES, first);
      }
      if (value < 0) value = knapsack.search(capacity, e + slack, CANDIDATE_NODES, first);
      if (value < 0) {
        if (++misses >= MOST_MISSES && this.columns.length > known) break;
        continue;
      }
      misses = 0;
      const fill = fillOf(knapsack.found);
      // Diverse columns help more than the best ones alone: skip what mostly repeats this round's.
      let seen = 0;
      for (const i of fill.items) if (used[i]! >= 2) seen++;
      if (added > 0 && 2 * seen > fill.items.length) continue;
      for (const i of fill.items) used[i]!++;
      const before = this.columns.length;
      if (this.add(columnOf(instance.n, group, [fill])) === before) {
        added++;
        perGroup[group]!++;
      }
    }
    return added;
  }

  private priceSegments(group: number, price: number): number {
    const { instance, pricing: knapsack } = this;
    const fills: Fill[] = [];
    let value = 0;
    for (const capacity of instance.groups[group]!.segments) {
      const v = knapsack.search(capacity, 0, PROOF_NODES);
      if (v > 0) value += v;
      fills.push(v > 0 ? fillOf(knapsack.found) : { items: new Int32Array(0), counts: new Int32Array(0) });
    }
    // An item on two segments was charged twice, so that this is worth no less.
    if (value <= price) return 0;
    const before = this.columns.length;
    return this.add(columnOf(instance.n, group, fills)) === before ? 1 : 0;
  }
}
