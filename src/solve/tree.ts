import type { Highs, Model } from 'highs';
import { type Duals, Families, type Family } from './families.js';
import type { Programme } from './programme.js';
import type { Watch } from './watch.js';

export interface TreeAnswer {
  /**
   * `infeasible`: no plan costs at most the mark; proved in whole numbers, node by node. `limit`: out of nodes or time;
   * `stuck`: the linear programmes are of no more use.
   */
  readonly status: 'found' | 'infeasible' | 'limit' | 'stuck';
  /** How often each column is taken. */
  readonly times: Float64Array | null;
}

/** A family's bounds as they were before a decision, and whether the other side is still to be tried. */
interface Fork {
  readonly family: number;
  readonly lower: number;
  readonly upper: number;
  readonly down: number;
  up: boolean;
}

/** A column of the programme and its value in the linear programme, more than nothing. */
export interface Part {
  readonly j: number;
  readonly value: number;
}

/** HiGHS's names for the two ways of its simplex. */
const DUAL = 1;
const PRIMAL = 4;
const SMALL = 1e-6;
/** Reduced cost, in shares of the dearest column, below which a column enters. */
const GAIN = 1e-8;
const MOST_ENTERING = 60;
const MOST_ALIKE = 4;
/** Times the price of leaving something out goes up when it was paid, and how often at most. */
const RAISE = 64;
const MOST_RAISES = 4;
const PROGRAMMES_A_LOOK = 8;
const MOST_SCALE = 2 ** 34;
/** Whole-number duals times coefficients stay exact doubles. */
const EXACT = 2 ** 52;

/** The largest sum of one column's coefficients, all taken as positive. */
function heaviestOf({ cost, starts, values }: Programme): number {
  let heaviest = 0;
  for (let j = 0; j < cost.length; j++) {
    let sum = 0;
    for (let e = starts[j]!; e < starts[j + 1]!; e++) sum += Math.abs(values[e]!);
    if (sum > heaviest) heaviest = sum;
  }
  return heaviest;
}

/**
 * Whether a programme has a solution that costs at most the mark, by branch and bound in which nothing but the choice of
 * branches rests on floating point: each dead end is proved by weak duality with the duals in whole numbers
 * (Neumaier and Shcherbina 2004, in integers).
 *
 * The linear programmes hold the columns that matter to them; the others are priced one by one (sifting).
 */
export class Tree {
  private readonly model: Model;
  private readonly families: Families;
  private readonly forks: Fork[] = [];
  /** By column of the linear programme: the programme's, or −1 for one that makes good what a row lacks, at a price. */
  private readonly entered: number[] = [];
  private readonly inside: Uint8Array;
  private readonly reduced: Float64Array;
  private readonly dear: number;
  private readonly heaviest: number;
  private lacking: number;
  private programmes = 0;

  constructor(
    private readonly highs: Highs,
    private readonly programme: Programme,
    readonly mark: number,
  ) {
    const { cost } = programme;
    this.families = new Families(programme);
    this.dear = cost.reduce((most, c) => Math.max(most, c), 1);
    // Leaving one out costs more than any plan that counts; where cost does not matter, nothing else costs.
    this.lacking = mark === Infinity ? 1 : (mark + 1) / this.dear;
    this.heaviest = heaviestOf(programme);
    this.inside = new Uint8Array(cost.length);
    this.reduced = new Float64Array(cost.length);
    this.model = this.build();
  }

  dispose(): void {
    this.model.dispose();
  }

  private costOf(j: number): number {
    return this.mark === Infinity ? 0 : this.programme.cost[j]!;
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
    for (let i = 0; i < items; i++) this.makeGood(model, i);
    return model;
  }

  private makeGood(model: Model, row: number): void {
    model.addCol(this.lacking, 0, this.highs.infinity, { indices: [row], values: [1] });
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
    this.model.addCol(this.costOf(j) / this.dear, 0, this.highs.infinity, {
      indices: rows,
      values: coefficients,
    });
    this.entered.push(j);
    this.inside[j] = 1;
  }

  /** Duals in whole numbers, rounded so that reduced costs rather rise, and their scale; null when they are no good. */
  private whole(duals: Float64Array): Duals | null {
    const { programme, families, dear } = this;
    const { lower, upper } = programme;
    // What the duals of a column's rows and families can come to.
    let largest = 1;
    duals.forEach((dual, r) => {
      if (r >= lower.length) largest += Math.abs(dual);
    });
    let most = 0;
    for (let r = 0; r < lower.length; r++) most = Math.max(most, Math.abs(duals[r]!));
    largest += most * this.heaviest;
    const scale = Math.min(MOST_SCALE, 2 ** Math.floor(Math.log2(EXACT / (largest * dear))));
    if (!(scale >= 1)) return null;
    const y = duals.map((dual, r) => {
      const value = Math.floor(dual * dear * scale);
      const family = families.list[r - lower.length];
      const [least, most] = family ? [family.lower, family.upper] : [lower[r]!, upper[r]!];
      return Number.isFinite(value > 0 ? least : most) ? value : 0;
    });
    return { y, scale };
  }

  /** What each column's cost exceeds its worth by. */
  private price({ y, scale }: Duals): void {
    const { programme, families, reduced } = this;
    const { starts, indices, values, lower } = programme;
    for (let j = 0; j < reduced.length; j++) {
      let rest = this.costOf(j) * scale;
      for (let e = starts[j]!; e < starts[j + 1]!; e++) rest -= y[indices[e]!]! * values[e]!;
      reduced[j] = rest;
    }
    families.list.forEach(({ members }, k) => {
      const dual = y[lower.length + k]!;
      if (dual !== 0) for (const j of members) reduced[j]! -= dual;
    });
  }

  /**
   * Whether every solution within the decisions costs more than the mark: scale · cost·x = Σ y·(A x) + Σ reduced · x,
   * each term at its least.
   */
  private hopeless({ y, scale }: Duals): boolean {
    const { programme, families, mark, reduced } = this;
    const { most, lower, upper } = programme;
    let total = 0n;
    y.forEach((value, r) => {
      if (value === 0) return;
      const { lower: least, upper: top } = families.list[r - lower.length] ?? {
        lower: lower[r]!,
        upper: upper[r]!,
      };
      total += BigInt(value) * BigInt(value > 0 ? least : top);
    });
    for (let j = 0; j < reduced.length; j++) {
      if (reduced[j]! >= 0) continue;
      if (!Number.isFinite(most[j]!)) return false;
      total += BigInt(reduced[j]!) * BigInt(most[j]!);
    }
    return mark === Infinity ? total > 0n : total > BigInt(mark) * BigInt(scale);
  }

  /** Columns worth most more than they cost, diverse; how many entered. */
  private sift(scale: number): number {
    const { programme, inside, reduced, dear } = this;
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

  /** Looks at the clock count as effort, and a programme here takes a fraction of what they stand for elsewhere. */
  private over(watch: Watch): boolean {
    return this.programmes++ % PROGRAMMES_A_LOOK === 0 && watch.over();
  }

  /** What the linear programme takes; null when no plan can come of this node; undefined when nobody can say. */
  private relax(watch: Watch): Part[] | null | undefined {
    const { model, highs } = this;
    let way = this.forks.length === 0 ? PRIMAL : DUAL;
    for (let raised = 0; !this.over(watch); ) {
      model.options.set('time_limit', model.getRunTime() + Math.max(watch.seconds(), 0.001));
      model.options.set('simplex_strategy', way);
      model.run();
      if (model.getModelStatus() !== highs.constants.modelStatus.optimal) return undefined;
      const { colValue, rowDual } = model.getSolution();
      if (!rowDual.every(Number.isFinite) || !colValue.every(Number.isFinite)) return undefined;
      const duals = this.whole(rowDual);
      if (!duals) return undefined;
      this.price(duals);
      if (this.hopeless(duals)) return null;
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
      // A little of what is lacking was cheap.
      this.lacking *= RAISE;
      this.entered.forEach((j, at) => {
        if (j < 0) model.changeColCost(at, this.lacking);
      });
    }
    return undefined;
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

  /** To the other side of the deepest decision that has one left; false when none has. */
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

  /** Goes on where the last run stopped. */
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
