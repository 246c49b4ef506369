import { countBound, type Duals, dualBound, dualValue, feasibleDuals } from '../bounds/bound.js';
import { type Column, type Cutting, columnOf, serves, trim } from '../columns/columns.js';
import { columnCost, columnWeight, grain as grainOf, hasSetups, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';
import type { Filling } from '../packing/close-pack.js';
import type { ProvenIncumbent } from './completion.js';
import type { Prover } from './generation.js';

export interface Found {
  /** Makes exactly the demand; null when none was found. */
  readonly plan: Cutting[] | null;
  readonly value: number;
  readonly bound: number;
  /** Proven: there is no plan at all. */
  readonly none: boolean;
}

/** Columns from failed attempts at packing that the root begins with, for each item. */
const SEEDS_AN_ITEM = 3;

export interface SearchLimits {
  /** How often dives and searches from below are tried at first; counted, so that the outcome does not hang on the clock. */
  readonly turns?: number;
  /** One of many searches: set-ups have none of their own. */
  readonly brief?: boolean;
  /** Only plans cheaper than this are of interest; the first one ends the search. */
  readonly anyBelow?: number;
  /** Told of every set of duals whose worths are proven; true: they prove that there is no plan. */
  readonly onDuals?: (duals: Duals) => boolean;
}

/** Where the search for one goal stands: the best plan, and what is proven. */
export class Standing implements ProvenIncumbent, Prover {
  protected plan: Cutting[] | null = null;
  value = Infinity;
  bound = 0;
  protected readonly grain: number;
  protected none = false;
  /** Columns to begin the root with. */
  protected readonly seeds: Column[] = [];

  constructor(
    protected readonly instance: Instance,
    protected readonly goal: SearchGoal,
    readonly watch: Watch,
    private readonly onImproved: (found: Found) => void,
    protected readonly limits: SearchLimits,
  ) {
    if (limits.anyBelow !== undefined) this.value = limits.anyBelow;
    this.grain = grainOf(goal);
  }

  get done(): boolean {
    return (
      this.none ||
      this.bound >= this.value ||
      (this.limits.anyBelow !== undefined && this.plan !== null) ||
      (this.goal.unmade !== null && this.bound > 0)
    );
  }

  private costOf(plan: readonly Cutting[]): number {
    return plan.reduce(
      (sum, { column, times }) =>
        column.items.length > 0 ? sum + times * columnCost(this.goal, column) : sum,
      0,
    );
  }

  private holds(plan: readonly Cutting[]): boolean {
    return this.goal.rows.every(
      (row) =>
        plan.reduce(
          (sum, { column, times }) =>
            column.items.length > 0 ? sum + times * columnWeight(row, column) : sum,
          0,
        ) <= row.limit,
    );
  }

  /** Takes a plan if it serves, keeps to the rows and is better. */
  take(cuttings: readonly Cutting[]): void {
    const plan = trim(this.instance, cuttings);
    if (!serves(this.instance, plan) || !this.holds(plan)) return;
    const value = this.costOf(plan);
    if (value >= this.value) return;
    this.plan = plan;
    this.value = value;
    this.onImproved(this.found());
  }

  learn(fillings: readonly Filling[]): void {
    const { n, groups } = this.instance;
    for (const { type, fill } of fillings) {
      if (this.seeds.length >= SEEDS_AN_ITEM * n) return;
      if (groups[type.group]!.segments.length === 1) this.seeds.push(columnOf(n, type.group, [fill]));
    }
  }

  raise(bound: number): void {
    if (bound <= this.bound) return;
    this.bound = Math.min(bound, this.value);
    if (this.plan) this.onImproved(this.found());
  }

  /** There is no plan at all, and that is proved. */
  deny(): void {
    this.none = true;
  }

  found(): Found {
    return { plan: this.plan, value: this.value, bound: this.bound, none: this.none };
  }

  prove(duals: Duals): number | null {
    const { instance, goal, grain } = this;
    if (this.limits.onDuals?.(duals) === true) this.deny();
    const sound = feasibleDuals(instance, goal, duals);
    if (sound) this.raise(dualBound(instance, goal, sound, grain));
    if (!this.done && instance.groups.length > 1 && !hasSetups(goal)) {
      const counted = countBound(instance, goal, duals, this.value);
      if (counted >= 0 && counted < Infinity) this.raise(counted);
    }
    return sound && Number(dualValue(instance, goal, sound)) / sound.scale;
  }
}
