import type { Column, Cutting } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { programmeWork, type Watch } from '../instance/watch.js';
import type { Lp, LpFactory } from '../lp/lp.js';
import { SMALL } from './choice.js';
import { type Forced, forcedOf } from './tight/forced.js';

export interface BranchAnswer {
  /** `infeasible`: no plan costs at most the mark; `stuck`: fractions are left that no pair decides. */
  readonly status: 'found' | 'infeasible' | 'stuck' | 'limit';
  /** Makes at least the demand. */
  readonly plan: Cutting[] | null;
}

/** What is decided: that two items share a piece or do not, or that a column is cut once more or no more. */
interface ListedDecision {
  /** Of a pair, an item needed once, and another; of a column −1. */
  readonly first: number;
  readonly second: number;
  /** Of a column which; of a pair −1. */
  readonly column: number;
  /** Together, or cut once more. */
  yes: boolean;
  /** The other side was tried, too. */
  both: boolean;
  readonly closed: number[];
}

/** Duals are whole in units of 1 / scale. */
const SCALE = 2 ** 30;
/** Weights of a pair's length, in sticks, and of its conflicts beside how undecided it is; measured, see DEVELOPERS.md. */
const HEAVY = 0.3;
const CONFLICTS = 1;
/** Cells looked at for one unit of work. */
const ENTRIES_A_UNIT = 500;

/**
 * A plan of at most so many equal pieces from listed columns, where the list has every column that such a plan may use:
 * branch and bound on pairs of rails (Ryan and Foster 1981), where at least one of the two is needed once, then on columns.
 * Nothing is priced, so a node takes a fraction of what it takes in `PairSearch`.
 *
 * Which pair is decided hangs on conflicts: a rail counts by how often its dual at a dead end was another than at the root
 * (as weighted degrees in constraint programming; Boussemart, Hemery, Lecoutre, Sais 2004). Linear programmes only guide; a
 * dead end is proven with their duals in whole numbers, by the most that an open column is worth (Farley 1990).
 */
export class ListedSearch {
  private readonly instance: Instance;
  private readonly columns: readonly Column[];
  private readonly pieces: number;
  private readonly lp: Lp;
  private readonly n: number;
  /** What is still to be made beside the columns that are decided. */
  private readonly need: Int32Array;
  private readonly starts: Int32Array;
  private readonly items: Int32Array;
  private readonly counts: Int32Array;
  private readonly holding: number[][];
  private readonly open: Uint8Array;
  private readonly forks: ListedDecision[] = [];
  private readonly cut: number[] = [];
  private readonly whole: Float64Array;
  private readonly worth: Float64Array;
  private readonly share = new Map<number, number>();
  /** Duals before anything is decided, and how much each item had to do with dead ends. */
  private readonly base: Float64Array;
  private readonly conflicts: Float64Array;
  private begun = false;

  /** Null where no library takes so many rows. */
  static of(
    factories: readonly LpFactory[],
    instance: Instance,
    columns: readonly Column[],
    pieces: number,
  ): ListedSearch | null {
    const factory = factories.find(({ mostRows, mostPairRows }) => instance.n <= (mostPairRows ?? mostRows));
    return factory ? new ListedSearch(factory, forcedOf(instance, columns), pieces) : null;
  }

  private constructor(
    factory: LpFactory,
    private readonly forced: Forced,
    pieces: number,
  ) {
    const { instance } = forced.part;
    const columns = forced.columns.flatMap((column) => forced.part.inward(column) ?? []);
    this.instance = instance;
    this.columns = columns;
    this.pieces = pieces - forced.cut.reduce((sum, { times }) => sum + times, 0);
    const { n, demand } = instance;
    this.n = n;
    this.need = demand.slice();
    this.starts = new Int32Array(columns.length + 1);
    columns.forEach(({ items }, j) => {
      this.starts[j + 1] = this.starts[j]! + items.length;
    });
    this.items = new Int32Array(this.starts[columns.length]!);
    this.counts = new Int32Array(this.items.length);
    this.holding = Array.from({ length: n }, () => []);
    this.lp = factory.create(Array.from(demand, (d) => ({ lower: d, upper: Infinity })));
    // Leaving a rail out costs more than any plan that counts.
    for (let i = 0; i < n; i++)
      this.lp.addColumn(Math.max(0, this.pieces) + 1, Int32Array.of(i), Float64Array.of(1));
    columns.forEach(({ items, counts }, j) => {
      this.items.set(items, this.starts[j]!);
      this.counts.set(counts, this.starts[j]!);
      for (const i of items) this.holding[i]!.push(j);
      this.lp.addColumn(1, items, Float64Array.from(counts));
    });
    this.open = new Uint8Array(columns.length).fill(1);
    this.whole = new Float64Array(n);
    this.worth = new Float64Array(columns.length);
    this.base = new Float64Array(n);
    this.conflicts = new Float64Array(n);
  }

  dispose(): void {
    this.lp.dispose();
  }

  /** Goes on where the last run stopped. */
  run(watch: Watch, nodes: number): BranchAnswer {
    if (this.forced.none || this.pieces < 0) return { status: 'infeasible', plan: null };
    if (this.n === 0) return { status: 'found', plan: [...this.forced.cut] };
    for (let node = 0; node < nodes && !watch.over(); node++) {
      watch.spend(programmeWork(this.n) + this.items.length / ENTRIES_A_UNIT);
      const answer = this.lp.solve(watch.seconds());
      if (answer.status !== 'optimal') return { status: watch.over() ? 'limit' : 'stuck', plan: null };
      const x = answer.x.subarray(this.n);
      if (this.hopeless(answer.duals)) {
        this.blame(answer.duals);
        if (!this.back()) return { status: 'infeasible', plan: null };
        continue;
      }
      if (!this.begun) this.base.set(answer.duals);
      this.begun = true;
      const decision = this.choose(x);
      if (!decision) {
        const plan = this.planOf(x);
        return { status: plan ? 'found' : 'stuck', plan };
      }
      this.forks.push(decision);
      this.apply(decision);
    }
    return { status: 'limit', plan: null };
  }

  /** Whether what is needed is worth more than the pieces left can hold: in whole numbers. */
  private hopeless(duals: Float64Array): boolean {
    const { n, whole, worth, starts, items, counts, open, need } = this;
    for (let i = 0; i < n; i++) whole[i] = Math.floor(Math.max(0, duals[i]!) * SCALE);
    if (!whole.every(Number.isSafeInteger)) return false;
    let most = SCALE;
    for (let j = 0; j < open.length; j++) {
      if (open[j] === 0) continue;
      let sum = 0;
      for (let e = starts[j]!; e < starts[j + 1]!; e++) sum += whole[items[e]!]! * counts[e]!;
      worth[j] = sum;
      if (sum > most) most = sum;
    }
    if (!Number.isSafeInteger(most)) return false;
    let needed = 0n;
    for (let i = 0; i < n; i++) if (need[i]! > 0) needed += BigInt(whole[i]!) * BigInt(need[i]!);
    const pieces = BigInt(this.pieces - this.cut.length);
    if (needed > BigInt(most) * pieces) return true;
    this.fix(Number(needed - BigInt(most) * (pieces - 1n)));
    return false;
  }

  /** Shuts the columns worth less than `least`: no plan that keeps to the decisions holds one (reduced-cost fixing). */
  private fix(least: number): void {
    if (!Number.isSafeInteger(least)) return;
    const { open, worth, forks } = this;
    const closed = forks[forks.length - 1]?.closed;
    for (let j = 0; j < open.length; j++) if (open[j] === 1 && worth[j]! < least) this.shut(closed, j);
  }

  /** Each dead end adds one in all: with few columns left duals are as large as the cost of leaving a rail out, and would outweigh all others. */
  private blame(duals: Float64Array): void {
    const { n, base, conflicts } = this;
    let sum = SMALL;
    for (let i = 0; i < n; i++) sum += Math.abs(duals[i]! - base[i]!);
    for (let i = 0; i < n; i++) conflicts[i]! += Math.abs(duals[i]! - base[i]!) / sum;
  }

  /** To the deepest decision whose other side is still to be tried; false when there is none. */
  private back(): boolean {
    for (let fork = this.forks.pop(); fork; fork = this.forks.pop()) {
      this.undo(fork);
      if (fork.both) continue;
      fork.yes = !fork.yes;
      fork.both = true;
      this.forks.push(fork);
      this.apply(fork);
      return true;
    }
    return false;
  }

  /** Notes it in `closed` to be undone; without, it is shut for good. */
  private shut(closed: number[] | undefined, j: number): void {
    if (this.open[j] === 0) return;
    this.open[j] = 0;
    closed?.push(j);
    this.lp.setUpper(this.n + j, 0);
  }

  private holds(j: number, item: number): boolean {
    for (let e = this.starts[j]!; e < this.starts[j + 1]!; e++) if (this.items[e] === item) return true;
    return false;
  }

  private apply(decision: ListedDecision): void {
    const { first, second, column, yes } = decision;
    const { holding, starts, items, counts, need, instance } = this;
    if (column < 0) {
      for (const j of holding[first]!) if (this.holds(j, second) !== yes) this.shut(decision.closed, j);
      if (!yes || instance.demand[second] !== 1) return;
      for (const j of holding[second]!) if (!this.holds(j, first)) this.shut(decision.closed, j);
      return;
    }
    if (!yes) {
      this.shut(decision.closed, column);
      return;
    }
    this.cut.push(column);
    this.change(column, -1);
    for (let e = starts[column]!; e < starts[column + 1]!; e++) {
      for (const j of holding[items[e]!]!) {
        let fits = true;
        for (let f = starts[j]!; f < starts[j + 1]!; f++) fits &&= counts[f]! <= need[items[f]!]!;
        if (!fits) this.shut(decision.closed, j);
      }
    }
  }

  private undo({ column, yes, closed }: ListedDecision): void {
    for (const j of closed) {
      this.open[j] = 1;
      this.lp.setUpper(this.n + j, Infinity);
    }
    closed.length = 0;
    if (column < 0 || !yes) return;
    this.cut.pop();
    this.change(column, 1);
  }

  private change(column: number, times: number): void {
    for (let e = this.starts[column]!; e < this.starts[column + 1]!; e++) {
      const i = this.items[e]!;
      this.need[i]! += times * this.counts[e]!;
      this.lp.setRow(i, Math.max(0, this.need[i]!), Infinity);
    }
  }

  /** What to decide next; null when everything is whole. */
  private choose(x: Float64Array): ListedDecision | null {
    const { n, share, starts, items, instance, conflicts } = this;
    const { demand, weight, largest } = instance;
    share.clear();
    for (let j = 0; j < x.length; j++) {
      if (x[j]! <= SMALL) continue;
      for (let a = starts[j]!; a < starts[j + 1]!; a++) {
        for (let b = a + 1; b < starts[j + 1]!; b++) {
          const [i, k] = [items[a]!, items[b]!];
          if (demand[i] !== 1 && demand[k] !== 1) continue;
          const key = demand[i] === 1 ? i * n + k : k * n + i;
          share.set(key, (share.get(key) ?? 0) + x[j]!);
        }
      }
    }
    let top = SMALL;
    for (let i = 0; i < n; i++) top = Math.max(top, conflicts[i]!);
    let best = -1;
    let highest = -Infinity;
    for (const [key, value] of share) {
      if (value <= SMALL || value >= 1 - SMALL) continue;
      const [first, second] = [Math.floor(key / n), key % n];
      const score =
        0.5 -
        Math.abs(value - 0.5) +
        (HEAVY * (weight[first]! + weight[second]!)) / largest +
        (CONFLICTS * (conflicts[first]! + conflicts[second]!)) / (2 * top);
      if (score > highest + SMALL || (score > highest - SMALL && key < best)) [best, highest] = [key, score];
    }
    const fresh = { yes: true, both: false, closed: [] };
    if (best >= 0) return { ...fresh, first: Math.floor(best / n), second: best % n, column: -1 };
    let [column, widest] = [-1, SMALL];
    for (let j = 0; j < x.length; j++) {
      const apart = Math.abs(x[j]! - Math.round(x[j]!));
      if (apart > widest) [column, widest] = [j, apart];
    }
    return column < 0 ? null : { ...fresh, first: -1, second: -1, column };
  }

  /** Null where it does not make everything from so many pieces. */
  private planOf(x: Float64Array): Cutting[] | null {
    const times = Int32Array.from(x, (value) => Math.max(0, Math.round(value)));
    for (const j of this.cut) times[j]!++;
    const missing = this.instance.demand.slice();
    let pieces = 0;
    const plan: Cutting[] = [];
    for (let j = 0; j < times.length; j++) {
      if (times[j] === 0) continue;
      const column = this.columns[j]!;
      pieces += times[j]!;
      column.items.forEach((i, e) => {
        missing[i]! -= times[j]! * column.counts[e]!;
      });
      plan.push({ column: this.forced.part.outward(column), times: times[j]! });
    }
    const whole = pieces <= this.pieces && missing.every((d) => d <= 0);
    return whole ? [...this.forced.cut, ...plan] : null;
  }
}
