import { allowance, chargesOf, type Duals } from '../bounds/bound.js';
import { columnCost, columnWeight, type SearchGoal } from '../instance/goal.js';
import { type Instance, refined } from '../instance/instance.js';
import { type EndingWork, programmeWork } from '../instance/watch.js';
import type { Lp, LpFactory, LpOptimal } from '../lp/lp.js';
import { type Column, type Cutting, columnOf, type Fill, fillOf, keyOf } from './columns.js';
import type { ExactPricing } from './exact-pricing.js';
import { Knapsack } from './knapsack.js';
import { type Candidate, diverse, pickDiverse, worthOf } from './pick.js';
import type { StepPricing } from './step-pricing.js';
import { substituted } from './substitutes.js';

/** Nodes of the search for the best pattern of a group: in each round, and where nothing else was found. */
const ROUND_NODES = 2_000;
const PROOF_NODES = 60_000;
/** Share by which a column must be worth more than it costs to count as such. */
const GAIN = 1e-9;

/**
 * The restricted master problem (Gilmore and Gomory 1961) with its columns and its pricing. Rows: one an item
 * (made ≥ needed), one a limited group, one a count row of the goal. Column j < n leaves one of item j unmade, dear
 * enough not to be wanted; the last are patterns. Costs are scaled by the dearest group for the LP's sake only.
 *
 * With `substitutes` there are columns between them by which an item stands in the place of the next longer one, at no cost
 * (dual inequalities; Ben Amor and Valério de Carvalho 2005): far fewer rounds are needed. They are no patterns, so before
 * the master's answer is used `settle` puts patterns in their place.
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
    private readonly work: EndingWork,
    substitutes = false,
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
    this.patterns = substitutes ? 2 * n - 1 : n;
    for (let j = n; j < this.patterns; j++) {
      this.lp.addColumn(0, Int32Array.of(j - n, j - n + 1), Float64Array.of(-1, 1));
    }
    this.settled = !substitutes;
  }

  /** Columns of the linear programme before the first pattern. */
  private readonly patterns: number;
  /** Whether it holds patterns alone. */
  settled: boolean;

  /** Puts patterns in the place of the substitutes of the last answer, which are used no more; false where that is done. */
  settle(): boolean {
    if (this.settled) return false;
    this.settled = true;
    const { instance, answer, columns, patterns } = this;
    const { n } = instance;
    if (answer) {
      const given = (k: number): number => answer.x[n + k - 1]!;
      const priced = columns.slice(0, answer.x.length - patterns);
      for (const column of substituted(instance, priced, (j) => this.at(j), given)) this.add(column);
    }
    for (let j = n; j < patterns; j++) this.lp.setUpper(j, 0);
    return true;
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

  private isNew(column: Column): boolean {
    const before = this.columns.length;
    return this.add(column) === before;
  }

  /** Solves the master; null when the LP library failed. The objective is in units of the goal. */
  solve(seconds: number): LpOptimal | null {
    this.work.spend(programmeWork(this.rows));
    const result = this.lp.solve(seconds);
    const sound =
      result.status === 'optimal' &&
      Number.isFinite(result.objective) &&
      result.duals.length === this.rows &&
      result.x.length === this.patterns + this.columns.length &&
      result.duals.every(Number.isFinite) &&
      result.x.every(Number.isFinite);
    this.answer = sound ? { ...result, objective: result.objective * this.dear } : null;
    return this.answer;
  }

  /** Value of column j of `columns` in the last answer. */
  at(j: number): number {
    return this.answer!.x[this.patterns + j]!;
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
        this.lp.setUpper(this.patterns + j, fits ? Infinity : 0);
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

  /** Duals of so much an item, in whole numbers of the master's scale. */
  valuesOf(item: Float64Array): Pick<Duals, 'item' | 'supply' | 'row'> {
    const { groups } = this.instance;
    return {
      item: item.map((value) => Math.floor(value * this.scale)),
      supply: new Float64Array(groups.length),
      row: new Float64Array(this.goal.rows.length),
    };
  }

  /** How many columns from `from` on are worth more than they cost at these duals. */
  worthMore(from: number, duals: Duals): number {
    const charges = chargesOf(this.goal, duals);
    let count = 0;
    for (let j = from; j < this.columns.length; j++) {
      const { group, items, counts } = this.columns[j]!;
      let worth = 0;
      for (let e = 0; e < items.length; e++) {
        worth += duals.item[items[e]!]! * counts[e]! - (charges?.[items[e]!] ?? 0);
      }
      if (worth > allowance(this.goal, duals, group) * (1 + GAIN)) count++;
    }
    return count;
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
    const { groups, n } = instance;
    const charges = chargesOf(goal, duals);
    knapsack.load(duals.item, demand, waste, charges);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const candidates: Candidate[] = [];
    const allow = Float64Array.from(groups, (_, s) => allowance(goal, duals, s));
    const known = this.columns.length;
    for (let s = 0; s < groups.length; s++) {
      const { segments } = groups[s]!;
      const e = allow[s]!;
      duals.worth[s] = worthOf(knapsack, segments, charges);
      if (duals.worth[s]! <= e + slack) continue;
      if (segments.length > 1) {
        this.priceSegments(s, e + slack);
        continue;
      }
      if (this.rounded && !this.priceGroup(duals, s, e, slack, ROUND_NODES)) continue;
      for (let i = 0; i < n; i++) {
        if (demand[i]! <= 0 || (duals.item[i]! <= 0 && waste === Infinity)) continue;
        const value = knapsack.upperFrom(i, segments[0]!);
        if (value > e + slack) candidates.push({ group: s, first: i, profit: (value - e) / (e + slack) });
      }
    }
    const found = this.columns.length > known;
    pickDiverse(instance, knapsack, candidates, allow, slack, most, found, (column) => this.isNew(column));
    if (this.rounded && this.columns.length === known) {
      // Nothing was found: only a longer search can tell whether there is anything.
      for (const s of new Set(candidates.map(({ group }) => group))) {
        this.priceGroup(duals, s, allow[s]!, slack, PROOF_NODES);
      }
    }
    return this.columns.length - known;
  }

  /** The same by numbers of rails. */
  priceSteps(stepped: StepPricing, duals: Duals, most: number): number {
    const { goal, instance } = this;
    const known = this.columns.length;
    stepped.price(duals.item, duals.worth);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const least = Float64Array.from(instance.groups, (_, s) => allowance(goal, duals, s) + slack);
    const used = new Int32Array(instance.n);
    const perGroup = new Int32Array(instance.groups.length);
    for (const column of stepped.patterns(least)) {
      const { group } = column;
      if (this.columns.length - known >= most) break;
      if (perGroup[group]! >= 2 + 2 * Math.min(instance.groups[group]!.supply, most)) continue;
      if (!diverse(column.items, used, this.columns.length === known)) continue;
      if (this.isNew(column)) perGroup[group]!++;
    }
    return this.columns.length - known;
  }

  /** The same to the single unit of length, for one group; null where that does not serve. */
  priceExactly(exact: ExactPricing, duals: Duals, most: number, cheaply: boolean): number | null {
    const known = this.columns.length;
    const allow = allowance(this.goal, duals, 0);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const worth = exact.price(duals.item, allow + slack, cheaply);
    if (worth === Infinity) return null;
    duals.worth[0] = worth;
    const used = new Int32Array(this.instance.n);
    for (const column of exact.patterns(allow + slack)) {
      if (this.columns.length - known >= most) break;
      if (diverse(column.items, used, this.columns.length === known)) this.add(column);
    }
    return this.columns.length - known;
  }

  /** Whether the table only bounds what a pattern can be worth. */
  private get rounded(): boolean {
    return this.instance.unit !== 1 || this.instance.kinds !== null;
  }

  /** Adds the best pattern of a group, if it is found and worth more than `price`; false: proved that there is none. */
  private priceGroup(duals: Duals, s: number, price: number, slack: number, nodes: number): boolean {
    const { instance, pricing: knapsack } = this;
    const value = knapsack.search(instance.groups[s]!.segments[0]!, price, nodes);
    if (knapsack.complete) duals.worth[s] = Math.max(value, price);
    if (value > price + slack) this.add(columnOf(instance.n, s, [fillOf(knapsack.found)]));
    return !knapsack.complete || value > price + slack;
  }

  private priceSegments(group: number, price: number): void {
    const { instance, pricing: knapsack } = this;
    const fills: Fill[] = [];
    let value = 0;
    for (const capacity of instance.groups[group]!.segments) {
      const v = knapsack.search(capacity, 0, PROOF_NODES);
      if (v > 0) value += v;
      fills.push(v > 0 ? fillOf(knapsack.found) : { items: new Int32Array(0), counts: new Int32Array(0) });
    }
    // An item on two segments was charged twice, so that this is worth no less.
    if (value > price) this.add(columnOf(instance.n, group, fills));
  }
}
