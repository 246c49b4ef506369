import { type Column, type Cutting, keyOf } from '../columns/columns.js';
import { type Pair, PairPricing, type RowDuals } from '../columns/pair-pricing.js';
import { hasSetups, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { type EndingWork, programmeWork, type Watch } from '../instance/watch.js';
import type { Lp, LpFactory, LpOptimal } from '../lp/lp.js';
import { closeRest } from '../packing/residual.js';
import { choosePairs, SMALL } from './choice.js';
import { type BranchAnswer, ListedSearch } from './listed.js';

/** A decided pair, and the columns that fell out of use for it. */
interface PairDecision extends Pair {
  together: boolean;
  readonly closed: number[];
}

const MOST_ITEMS = 300;
const LEAST_SINGLE = 0.6;
/** Dead ends before the search begins at the top again, the first time, and how many times more each time after. */
const PATIENCE = 12;
const PATIENCE_GROWTH = 3;
/** Decisions for each rail, below which a dead end is a shallow one. */
const SHALLOW = 1 / 6;
/** Columns up to which all that a plan may use are listed, in all and for each item, and nodes of that search for one of this. */
const MOST_LISTED = 12_000;
const LISTED_AN_ITEM = 75;
const LISTED_NODES = 10;

/**
 * A plan of cost ≤ `mark`, by branch and price on pairs of rails (Ryan and Foster 1981; Vance et al. 1994): two rails
 * that are made once each are on one stick, or they are not. A pair decides far more than one column does: it proves
 * that no whole plan exists at the bound where a fractional one does, which dives and cuts over columns take long for.
 *
 * For whole pieces only. The linear programmes are floating and only guide the search; that a node is hopeless is proved
 * by the pricing, in whole numbers.
 */
export class PairSearch {
  private lp: Lp;
  private readonly pricing: PairPricing;
  readonly columns: Column[] = [];
  private readonly known = new Set<string>();
  /** What was left to be filled by exact search, and could not be. */
  private readonly tried = new Set<string>();
  private readonly holding: number[][];
  private readonly open: boolean[] = [];
  private readonly forks: PairDecision[] = [];
  private readonly supplyRow: Int32Array;
  private readonly heldRow: readonly number[];
  /** Dead ends since the search began at the top, and how many before it does so again. */
  private dead = 0;
  private patience = PATIENCE;
  /** Whether there is likely no plan. */
  shallow = false;
  /** The library in use. */
  private factory = 0;
  /** Goes on in the place of this search where all columns that a plan may use are listed; undefined: not yet looked. */
  private listed: ListedSearch | null | undefined;

  /** `factories`: tried in order; the next one where one fails. */
  constructor(
    private readonly factories: readonly LpFactory[],
    private readonly instance: Instance,
    private readonly goal: SearchGoal,
    columns: readonly Column[],
    private readonly mark: number,
    work: EndingWork,
  ) {
    this.pricing = new PairPricing(instance, goal, mark, work);
    this.holding = Array.from({ length: instance.n }, () => []);
    let rows = instance.n;
    this.supplyRow = Int32Array.from(instance.groups, (group) => (group.supply === Infinity ? -1 : rows++));
    this.heldRow = goal.rows.map(() => rows++);
    this.lp = this.build();
    for (const column of columns) if (this.pricing.matters(column)) this.enter(column);
  }

  /** Whether pairs say enough: whole pieces, and rails needed once each but for a few. */
  static serves({ kinds, groups, demand, n }: Instance, goal: SearchGoal, most = MOST_ITEMS): boolean {
    let single = 0;
    for (const d of demand) if (d === 1) single++;
    return (
      !kinds &&
      !goal.unmade &&
      !hasSetups(goal) &&
      n <= most &&
      single >= LEAST_SINGLE * n &&
      groups.every((group, s) => group.segments.length === 1 && goal.cost[s]! > 0)
    );
  }

  /** Whether all columns that a plan may use are listed, and the search goes on over those. */
  get lists(): boolean {
    return this.listed !== undefined && this.listed !== null;
  }

  dispose(): void {
    this.lp.dispose();
    this.listed?.dispose();
  }

  private build(): Lp {
    const { factories, instance, goal, mark } = this;
    const rows = Array.from(instance.demand, (d) => ({ lower: d, upper: Infinity }));
    instance.groups.forEach(({ supply }, s) => {
      if (this.supplyRow[s]! >= 0) rows.push({ lower: -Infinity, upper: supply });
    });
    for (const { limit } of goal.rows) rows.push({ lower: -Infinity, upper: limit });
    const most = ({ mostPairRows, mostRows }: LpFactory): number => mostPairRows ?? mostRows;
    while (this.factory < factories.length - 1 && most(factories[this.factory]!) < rows.length)
      this.factory++;
    const lp = factories[this.factory]!.create(rows);
    // Leaving a rail out costs more than any plan that counts.
    for (let i = 0; i < instance.n; i++) lp.addColumn(mark + 1, Int32Array.of(i), Float64Array.of(1));
    return lp;
  }

  private enter(column: Column): void {
    const key = keyOf(column);
    if (this.known.has(key)) return;
    this.known.add(key);
    const j = this.columns.push(column) - 1;
    this.open.push(true);
    for (const i of column.items) this.holding[i]!.push(j);
    this.hand(column);
  }

  private hand(column: Column): void {
    const { goal, lp } = this;
    const indices = [...column.items];
    const values = [...column.counts];
    if (this.supplyRow[column.group]! >= 0) {
      indices.push(this.supplyRow[column.group]!);
      values.push(1);
    }
    goal.rows.forEach((row, r) => {
      if (row.weights[column.group] === 0) return;
      indices.push(this.heldRow[r]!);
      values.push(row.weights[column.group]!);
    });
    lp.addColumn(goal.cost[column.group]!, Int32Array.from(indices), Float64Array.from(values));
  }

  /** The linear programme solved, by the next library where one fails; null where none serves. */
  private solve(watch: Watch): LpOptimal | null {
    for (;;) {
      const result = this.lp.solve(watch.seconds());
      if (result.status === 'optimal') return result;
      if (watch.over() || this.factory + 1 >= this.factories.length) return null;
      this.factory++;
      this.lp.dispose();
      this.lp = this.build();
      this.columns.forEach((column, j) => {
        this.hand(column);
        if (!this.open[j]) this.lp.setUpper(this.instance.n + j, 0);
      });
    }
  }

  private dualsOf(duals: Float64Array): RowDuals {
    return {
      item: duals.subarray(0, this.instance.n),
      supply: Float64Array.from(this.supplyRow, (row) => (row < 0 ? 0 : duals[row]!)),
      row: Float64Array.from(this.heldRow, (row) => duals[row]!),
    };
  }

  /** Values of the columns; null when no plan can come of this node; undefined when nobody can say. */
  private relax(watch: Watch): Float64Array | null | undefined {
    const { mark, instance } = this;
    const above = mark + SMALL * Math.max(1, mark);
    for (;;) {
      if (watch.over()) return undefined;
      watch.spend(programmeWork(this.instance.n));
      const answer = this.solve(watch);
      if (!answer) return undefined;
      const { columns, hopeless, none } = this.pricing.price(this.dualsOf(answer.duals));
      if (hopeless) return null;
      if (columns.length > 0) {
        const known = this.columns.length;
        for (const column of columns) this.enter(column);
        // Only a library that is wrong finds worth in what it has already.
        if (this.columns.length === known) return undefined;
        continue;
      }
      // A value above the mark that is not proved to be there says nothing.
      return none && answer.objective <= above ? answer.x.subarray(instance.n) : undefined;
    }
  }

  private close(fork: PairDecision): void {
    const { first, second, together } = fork;
    const shut = (j: number): void => {
      if (!this.open[j]) return;
      this.open[j] = false;
      fork.closed.push(j);
      this.lp.setUpper(this.instance.n + j, 0);
    };
    for (const j of this.holding[first]!) if (this.columns[j]!.items.includes(second) !== together) shut(j);
    if (together) for (const j of this.holding[second]!) if (!this.columns[j]!.items.includes(first)) shut(j);
  }

  private reopen(fork: PairDecision): void {
    for (const j of fork.closed) {
      this.open[j] = true;
      this.lp.setUpper(this.instance.n + j, Infinity);
    }
    fork.closed.length = 0;
  }

  /** Goes on where the last run stopped. */
  run(watch: Watch, nodes: number): BranchAnswer {
    if (this.listed) return this.listed.run(watch, LISTED_NODES * nodes);
    for (let node = 0; node < nodes; node++) {
      const x = this.relax(watch);
      if (x === undefined) break;
      if (x && this.listed === undefined && this.list()) return this.run(watch, nodes);
      const pairs = x && choosePairs(this.instance, this.columns, x, this.pricing, this.shallow);
      if (x && pairs?.length === 0) {
        const plan = this.planOf(x);
        return { status: plan ? 'found' : 'stuck', plan };
      }
      const filled = x && this.filled(x, watch);
      if (filled) return { status: 'found', plan: filled };
      if (pairs) {
        for (const [first, second] of pairs) {
          const fork: PairDecision = { first, second, together: true, closed: [] };
          this.forks.push(fork);
          this.close(fork);
        }
      } else if (this.metDeadEnd()) {
        // Dead ends at the bottom of one dive are much alike: from the top again, with the columns met since.
        for (let fork = this.forks.pop(); fork; fork = this.forks.pop()) this.reopen(fork);
        this.patience *= PATIENCE_GROWTH;
        this.dead = 0;
      } else {
        // Nothing below here: the deepest fork that has not been tried apart.
        let fork = this.forks[this.forks.length - 1];
        while (fork && !fork.together) {
          this.reopen(fork);
          this.forks.pop();
          fork = this.forks[this.forks.length - 1];
        }
        if (!fork) return { status: 'infeasible', plan: null };
        this.reopen(fork);
        fork.together = false;
        this.close(fork);
      }
      this.pricing.decide(this.forks);
    }
    return { status: 'limit', plan: null };
  }

  /** Lists all columns that a plan may use, by the duals before any decision; false where they are too many. */
  private list(): boolean {
    const { factories, instance, goal, mark, pricing } = this;
    const most = Math.min(MOST_LISTED, LISTED_AN_ITEM * instance.n);
    const columns = this.forks.length === 0 ? pricing.within(most) : null;
    this.listed = columns && ListedSearch.of(factories, instance, columns, Math.floor(mark / goal.cost[0]!));
    return this.listed !== null;
  }

  /**
   * Whether to begin at the top again. Not once a dead end was met long before most sticks are decided: then there is
   * likely no plan, and what counts is that each decision is weighed by itself and none is made twice.
   */
  private metDeadEnd(): boolean {
    this.dead++;
    this.shallow ||= this.forks.length < SHALLOW * this.instance.n;
    return !this.shallow && this.dead > this.patience;
  }

  /** A plan with the columns that are whole, where the few pieces beside them can be filled by exact search. */
  private filled(x: Float64Array, watch: Watch): Cutting[] | null {
    const { instance, goal, columns, mark } = this;
    const demand = instance.demand.slice();
    const used = new Float64Array(instance.groups.length);
    const whole: Cutting[] = [];
    let below = mark + 1;
    columns.forEach((column, j) => {
      const times = Math.floor(x[j]! + SMALL);
      if (times === 0) return;
      whole.push({ column, times });
      used[column.group]! += times;
      below -= times * goal.cost[column.group]!;
      column.items.forEach((i, e) => {
        demand[i] = Math.max(0, demand[i]! - column.counts[e]! * times);
      });
    });
    const key = demand.join();
    if (this.tried.has(key)) return null;
    this.tried.add(key);
    const rest = closeRest(instance, goal, demand, used, below, watch);
    return rest ? [...whole, ...rest] : null;
  }

  /** Null where rails needed several times leave fractions that no pair decides. */
  private planOf(x: Float64Array): Cutting[] | null {
    if (x.some((value) => Math.abs(value - Math.round(value)) > SMALL)) return null;
    return this.columns.flatMap((column, j) => {
      const times = Math.round(x[j]!);
      return times > 0 ? [{ column, times }] : [];
    });
  }
}
