import type { Highs, Model } from 'highs';
import { WeakDuality, type WholeDuals } from '../bounds/weak-duality.js';
import { programmeWork, type Watch } from '../instance/watch.js';
import { Families, type Family, type Part } from './families.js';
import type { Programme } from './programme.js';

export interface TreeAnswer {
  /**
   * `infeasible`: no plan costs at most the mark; proved in whole numbers, node by node. `limit`: out of nodes or time.
   * `stuck`: the linear programmes no longer help.
   */
  readonly status: 'found' | 'infeasible' | 'limit' | 'stuck';
  /** How often each column is taken. */
  readonly times: Float64Array | null;
}

/** The linear programme before anything is decided; `hopeless`: it proves that no solution costs at most the mark. */
export type TreeRoot = { readonly hopeless: true } | OpenRoot;

export interface OpenRoot {
  readonly hopeless: false;
  /** Columns that a solution at the mark may take, by reduced cost. */
  readonly useful: Uint8Array;
  /** Columns that the linear programme holds. */
  readonly held: readonly number[];
  /** Those it takes, and how often. */
  readonly taken: ReadonlyMap<number, number>;
  /** How its rows combine to what says the value of a column that is not taken in whole numbers, furthest from whole first. */
  readonly fractions: readonly Float64Array[];
}

/** A family's bounds as they were before a decision, and whether the other side is still to be tried. */
interface FamilyDecision {
  readonly family: number;
  readonly lower: number;
  readonly upper: number;
  readonly down: number;
  up: boolean;
}

/** HiGHS's names for the two ways of its simplex. */
const DUAL = 1;
const PRIMAL = 4;
const SMALL = 1e-6;
/** Columns nearer to whole are taken as whole where cuts are sought. */
const UNWHOLE = 0.02;
/** Reduced cost, in shares of the dearest column, below which a column enters. */
const GAIN = 1e-8;
const MOST_ENTERING = 60;
const MOST_ALIKE = 4;
/** The factor by which the price of leaving something out rises when it was paid, and how often it rises at most. */
const RAISE = 64;
const MOST_RAISES = 4;
/** Columns whose reduced cost is computed in a unit of work. */
const PRICED_A_UNIT = 20;

/**
 * Whether a programme has a solution that costs at most the mark, by branch and bound. Only the choice of branches rests
 * on floating point: each dead end is proved by weak duality with the duals in whole numbers
 * (Neumaier and Shcherbina 2004, in integers).
 *
 * The linear programmes hold the columns that matter to them; the others are priced one by one (sifting).
 */
export class Tree {
  private readonly model: Model;
  private readonly families: Families;
  private readonly forks: FamilyDecision[] = [];
  /** By column of the linear programme: the programme's, or −1 for one that covers what a row lacks, at a price. */
  private readonly entered: number[] = [];
  private readonly inside: Uint8Array;
  private readonly duality: WeakDuality;
  private lacking: number;
  /** Of the linear programme solved last. */
  private duals: WholeDuals | null = null;

  /**
   * `visits`: set-ups cost, and how many pieces hold an item is decided before pairs. `known`: columns to begin the linear
   * programme with.
   */
  constructor(
    private readonly highs: Highs,
    private readonly programme: Programme,
    readonly mark: number,
    visits = false,
    known: readonly number[] = [],
  ) {
    const { cost } = programme;
    this.families = new Families(programme, visits);
    this.duality = new WeakDuality(programme, this.families, mark);
    // Leaving one out costs more than any plan that counts; where cost does not matter, nothing else costs.
    this.lacking = mark === Infinity ? 1 : (mark + 1) / this.duality.dear;
    this.inside = new Uint8Array(cost.length);
    this.model = this.build();
    for (const j of known) this.enter(j);
  }

  dispose(): void {
    this.model.dispose();
  }

  private build(): Model {
    const { highs, programme } = this;
    const { lower, upper, items } = programme;
    const model = highs.createModel();
    model.options.set({
      output_flag: false,
      presolve: 'off',
      solver: 'simplex',
      dual_simplex_cost_perturbation_multiplier: 0,
      dual_feasibility_tolerance: 1e-9,
    });
    const { infinity } = highs;
    for (let r = 0; r < lower.length; r++) {
      model.addRow(Math.max(lower[r]!, -infinity), Math.min(upper[r]!, infinity), {
        indices: [],
        values: [],
      });
    }
    for (let r = 0; r < lower.length; r++)
      if (r < items || lower[r]! > 0) this.makeGood(model, r, Math.max(1, r < items ? 1 : lower[r]!));
    return model;
  }

  /** `lack`: how much of what the row asks for is left out at the price of leaving one item out. */
  private makeGood(model: Model, row: number, lack = 1): void {
    model.addCol(this.lacking, 0, this.highs.infinity, { indices: [row], values: [lack] });
    this.entered.push(-1);
  }

  private enter(j: number): void {
    const { starts, indices, values, lower } = this.programme;
    const [rows, coefficients] = [
      [...indices.subarray(starts[j], starts[j + 1])],
      [...values.subarray(starts[j], starts[j + 1])],
    ];
    this.families.list.forEach((family, k) => {
      if (!family.has(j)) return;
      rows.push(lower.length + k);
      coefficients.push(1);
    });
    this.model.addCol(this.duality.costOf(j) / this.duality.dear, 0, this.highs.infinity, {
      indices: rows,
      values: coefficients,
    });
    this.entered.push(j);
    this.inside[j] = 1;
  }

  /** Columns worth most more than they cost, diverse; how many entered. */
  private sift(scale: number): number {
    const { programme, inside } = this;
    const { reduced, dear } = this.duality;
    const { starts, indices, items } = programme;
    const least = -GAIN * dear * scale;
    const worthy: number[] = [];
    for (let j = 0; j < reduced.length; j++) if (reduced[j]! < least && inside[j] === 0) worthy.push(j);
    worthy.sort((a, b) => reduced[a]! - reduced[b]! || a - b);
    const used = new Int32Array(items);
    let count = 0;
    for (const j of worthy) {
      if (count >= MOST_ENTERING) break;
      const rows = indices.subarray(starts[j], starts[j + 1]);
      if (rows.some((r) => r < items && used[r]! >= MOST_ALIKE)) continue;
      for (const r of rows) if (r < items) used[r]!++;
      this.enter(j);
      count++;
    }
    return count;
  }

  /** The columns the linear programme takes; null when this node has no plan; undefined when that is not known. */
  private relax(watch: Watch): Part[] | null | undefined {
    const { model, highs } = this;
    let way = this.forks.length === 0 ? PRIMAL : DUAL;
    for (let raised = 0; !watch.over(); ) {
      watch.spend(programmeWork(this.programme.lower.length) + this.inside.length / PRICED_A_UNIT);
      model.options.set('time_limit', model.getRunTime() + Math.max(watch.seconds(), 0.001));
      model.options.set('simplex_strategy', way);
      model.run();
      if (model.getModelStatus() !== highs.constants.modelStatus.optimal) return undefined;
      const { colValue, rowDual } = model.getSolution();
      if (!rowDual.every(Number.isFinite) || !colValue.every(Number.isFinite)) return undefined;
      const duals = this.duality.whole(rowDual);
      if (!duals) return undefined;
      this.duality.price(duals);
      this.duals = duals;
      if (this.duality.hopeless(duals)) return null;
      way = PRIMAL;
      if (this.sift(duals.scale) > 0) continue;
      const parts: Part[] = [];
      let lacks = false;
      colValue.forEach((value, at) => {
        if (value <= SMALL) return;
        const j = this.entered[at]!;
        if (j < 0) lacks = true;
        else parts.push({ j, value });
      });
      if (!lacks) return parts;
      if (raised++ === MOST_RAISES) return undefined;
      // The price was too low: something was left out.
      this.lacking *= RAISE;
      this.entered.forEach((j, at) => {
        if (j < 0) model.changeColCost(at, this.lacking);
      });
    }
    return undefined;
  }

  /** Solves the linear programme before anything is decided; null where that failed. So many fractions at most. */
  root(watch: Watch, most: number): TreeRoot | null {
    const parts = this.relax(watch);
    if (parts === undefined) return null;
    if (parts === null) return { hopeless: true };
    const { model, entered, duality } = this;
    const rest = duality.rest(this.duals!);
    const { colValue } = model.getSolution();
    const apart: { readonly row: number; readonly whole: number }[] = [];
    model.getBasicVariables().forEach((c, row) => {
      if (c < 0 || entered[c]! < 0) return;
      const value = colValue[c]!;
      const whole = Math.abs(value - Math.floor(value) - 0.5);
      if (whole < 0.5 - UNWHOLE) apart.push({ row, whole });
    });
    apart.sort((a, b) => a.whole - b.whole || a.row - b.row);
    return {
      hopeless: false,
      useful: Uint8Array.from(duality.reduced, (reduced) => Number(reduced <= rest)),
      held: entered.filter((j) => j >= 0),
      taken: new Map(parts.map(({ j, value }) => [j, value])),
      fractions: apart.slice(0, most).map(({ row }) => model.getBasisInverseRow(row).values),
    };
  }

  private rowOf(family: Family): number {
    const { families, model, highs, programme } = this;
    const known = families.list.indexOf(family);
    if (known >= 0) return known;
    const k = families.add(family);
    const indices = this.entered.flatMap((j, at) => (j >= 0 && family.has(j) ? [at] : []));
    model.addRow(0, highs.infinity, { indices, values: indices.map(() => 1) });
    this.makeGood(model, programme.lower.length + k);
    return k;
  }

  private bind(k: number, lower: number, upper: number): void {
    const family = this.families.list[k]!;
    family.lower = lower;
    family.upper = upper;
    const row = this.programme.lower.length + k;
    this.model.changeRowBounds(row, lower, Math.min(upper, this.highs.infinity));
  }

  private descend(family: Family, sum: number): void {
    const k = this.rowOf(family);
    const { lower, upper } = family;
    const down = Math.floor(sum);
    this.forks.push({ family: k, lower, upper, down, up: true });
    this.bind(k, down + 1, upper);
  }

  /** Goes to the other side of the deepest decision whose other side is still to be tried; false when there is none. */
  private back(): boolean {
    for (let fork = this.forks.pop(); fork; fork = this.forks.pop()) {
      const { family, lower, upper, down } = fork;
      if (fork.up) {
        fork.up = false;
        this.forks.push(fork);
        this.bind(family, lower, down);
        return true;
      }
      this.bind(family, lower, upper);
    }
    return false;
  }

  /** Whether these whole numbers solve the programme for at most the mark: checked in whole numbers. */
  private solves(times: Float64Array): boolean {
    const { cost, lower, upper, starts, indices, values } = this.programme;
    const made = new Float64Array(lower.length);
    let spent = 0;
    times.forEach((count, j) => {
      if (count === 0) return;
      spent += count * cost[j]!;
      for (let e = starts[j]!; e < starts[j + 1]!; e++) made[indices[e]!]! += count * values[e]!;
    });
    return spent <= this.mark && made.every((sum, r) => sum >= lower[r]! && sum <= upper[r]!);
  }

  /** Continues where the last run stopped. */
  run(watch: Watch, nodes: number): TreeAnswer {
    for (let node = 0; node < nodes; node++) {
      const parts = this.relax(watch);
      if (parts === undefined) return { status: watch.over() ? 'limit' : 'stuck', times: null };
      const choice = parts && this.families.choose(parts);
      if (parts && !choice) {
        const times = new Float64Array(this.programme.cost.length);
        for (const { j, value } of parts) times[j] = Math.round(value);
        return this.solves(times) ? { status: 'found', times } : { status: 'stuck', times: null };
      }
      if (choice) this.descend(choice.family, choice.sum);
      else if (!this.back()) return { status: 'infeasible', times: null };
    }
    return { status: 'limit', times: null };
  }
}
