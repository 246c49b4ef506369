import { allowance, chargesOf, type Duals } from '../bounds/bound.js';
import type { SearchGoal } from '../instance/goal.js';
import { type Instance, refined } from '../instance/instance.js';
import type { EndingWork } from '../instance/watch.js';
import { type Column, columnOf, type Fill, fillOf } from './columns.js';
import type { ExactPricing } from './exact-pricing.js';
import { Knapsack } from './knapsack.js';
import { type Candidate, diverse, pickDiverse, worthOf } from './pick.js';
import type { StepPricing } from './step-pricing.js';

/** Nodes of the search for the best pattern of a group: in each round, and where nothing else was found. */
const ROUND_NODES = 2_000;
const PROOF_NODES = 60_000;

/** What patterns are looked for, and where they enter. */
interface PricedMaster {
  readonly instance: Instance;
  readonly goal: SearchGoal;
  readonly columns: readonly Column[];
  /** Index of the column, which is added unless known. */
  add(column: Column): number;
}

/** Looks for patterns that better a master, and bounds what any can be worth. */
export class PatternPricing {
  /** The one priced with: the usual, or a finer one for a last proof. */
  private knapsack: Knapsack;
  private fine: Knapsack | null | undefined;

  /** `dear`: what the dearest piece costs. */
  constructor(
    private readonly master: PricedMaster,
    readonly usual: Knapsack,
    private readonly dear: number,
    private readonly work: EndingWork,
  ) {
    this.knapsack = usual;
  }

  /** Prices on the finest grid from now on; false when that is no better or is so already. */
  sharpen(): boolean {
    if (this.fine === undefined) {
      const finer = refined(this.master.instance);
      this.fine = finer && new Knapsack(finer, this.work);
    }
    if (!this.fine || this.knapsack === this.fine) return false;
    this.knapsack = this.fine;
    return true;
  }

  blunt(): void {
    this.knapsack = this.usual;
  }

  private isNew(column: Column): boolean {
    const before = this.master.columns.length;
    return this.master.add(column) === before;
  }

  /**
   * Adds up to `most` diverse patterns worth more than they cost at these duals, at most `demand` of an item in
   * each; fills `duals.worth` with proven upper bounds. Answers how many were added.
   */
  price(duals: Duals, demand: Int32Array, most: number, waste = Infinity): number {
    const { instance, goal, columns } = this.master;
    const { knapsack } = this;
    const { groups, n } = instance;
    const charges = chargesOf(goal, duals);
    knapsack.load(duals.item, demand, waste, charges);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const candidates: Candidate[] = [];
    const allow = Float64Array.from(groups, (_, s) => allowance(goal, duals, s));
    const known = columns.length;
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
    const found = columns.length > known;
    pickDiverse(instance, knapsack, candidates, allow, slack, most, found, (column) => this.isNew(column));
    if (this.rounded && columns.length === known) {
      // Nothing was found: only a longer search can tell whether there is anything.
      for (const s of new Set(candidates.map(({ group }) => group))) {
        this.priceGroup(duals, s, allow[s]!, slack, PROOF_NODES);
      }
    }
    return columns.length - known;
  }

  /** The same by numbers of rails. */
  priceSteps(stepped: StepPricing, duals: Duals, most: number): number {
    const { goal, instance, columns } = this.master;
    const known = columns.length;
    stepped.price(duals.item, duals.worth);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const least = Float64Array.from(instance.groups, (_, s) => allowance(goal, duals, s) + slack);
    const used = new Int32Array(instance.n);
    const perGroup = new Int32Array(instance.groups.length);
    for (const column of stepped.patterns(least)) {
      const { group } = column;
      if (columns.length - known >= most) break;
      if (perGroup[group]! >= 2 + 2 * Math.min(instance.groups[group]!.supply, most)) continue;
      if (!diverse(column.items, used, columns.length === known)) continue;
      if (this.isNew(column)) perGroup[group]!++;
    }
    return columns.length - known;
  }

  /** The same to the single unit of length, for one group; null where that does not serve. */
  priceExactly(exact: ExactPricing, duals: Duals, most: number, cheaply: boolean): number | null {
    const { columns, goal, instance } = this.master;
    const known = columns.length;
    const allow = allowance(goal, duals, 0);
    const slack = Math.max(1, Math.floor(this.dear * duals.scale * 1e-9));
    const worth = exact.price(duals.item, allow + slack, cheaply);
    if (worth === Infinity) return null;
    duals.worth[0] = worth;
    const used = new Int32Array(instance.n);
    for (const column of exact.patterns(allow + slack)) {
      if (columns.length - known >= most) break;
      if (diverse(column.items, used, columns.length === known)) this.master.add(column);
    }
    return columns.length - known;
  }

  /** Whether the table only bounds what a pattern can be worth. */
  private get rounded(): boolean {
    return this.master.instance.unit !== 1 || this.master.instance.kinds !== null;
  }

  /** Adds the best pattern of a group, if it is found and worth more than `price`; false: proved that there is none. */
  private priceGroup(duals: Duals, s: number, price: number, slack: number, nodes: number): boolean {
    const { instance } = this.master;
    const { knapsack } = this;
    const value = knapsack.search(instance.groups[s]!.segments[0]!, price, nodes);
    if (knapsack.complete) duals.worth[s] = Math.max(value, price);
    if (value > price + slack) this.master.add(columnOf(instance.n, s, [fillOf(knapsack.found)]));
    return !knapsack.complete || value > price + slack;
  }

  private priceSegments(group: number, price: number): void {
    const { instance } = this.master;
    const { knapsack } = this;
    const fills: Fill[] = [];
    let value = 0;
    for (const capacity of instance.groups[group]!.segments) {
      const v = knapsack.search(capacity, 0, PROOF_NODES);
      if (v > 0) value += v;
      fills.push(v > 0 ? fillOf(knapsack.found) : { items: new Int32Array(0), counts: new Int32Array(0) });
    }
    // An item on two segments was charged twice, so that this is worth no less.
    if (value > price) this.master.add(columnOf(instance.n, group, fills));
  }
}
