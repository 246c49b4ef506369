import { allowance, chargesOf, type Duals } from '../bounds/bound.js';
import { columnCost, columnWeight, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { type EndingWork, programmeWork } from '../instance/watch.js';
import type { Lp, LpFactory, LpOptimal } from '../lp/lp.js';
import { type Column, type Cutting, keyOf } from './columns.js';
import type { Knapsack } from './knapsack.js';
import { PatternPricing } from './pricing.js';
import { substituted } from './substitutes.js';

/** Share by which a column must be worth more than it costs to count as such. */
const GAIN = 1e-9;

/**
 * The restricted master problem (Gilmore and Gomory 1961) with its columns. Rows: one an item
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
  /** How patterns are found that better it. */
  readonly pricing: PatternPricing;

  constructor(
    readonly instance: Instance,
    readonly goal: SearchGoal,
    knapsack: Knapsack,
    factory: LpFactory,
    private readonly work: EndingWork,
    substitutes = false,
  ) {
    const { n, groups, demand, weight, largest } = instance;
    const dearest = Math.max(0, ...(goal.setup ?? []));
    const top = Math.max(1, ...goal.cost, ...(goal.unmade ?? [])) + dearest;
    const limited = groups.some((group) => group.supply !== Infinity) || goal.rows.length > 0;
    this.dear = top;
    this.pricing = new PatternPricing(this, knapsack, top, work);
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
}
