import { type Column, type Cutting, trim } from '../../columns/columns.js';
import type { SearchGoal } from '../../instance/goal.js';
import type { Instance } from '../../instance/instance.js';
import { wasteWithin } from '../../instance/waste.js';
import type { EndingWork, Watch } from '../../instance/watch.js';
import type { LpFactory } from '../../lp/lp.js';
import { randomOf } from '../../random.js';
import { PairSearch } from '../branch.js';
import type { BranchAnswer } from '../listed.js';
import { type Certain, certainSticks } from './certain.js';
import { PlanDrawing } from './drawing.js';
import { peeledAside } from './laid-aside.js';
import { changeDemand, holdsPart, partOf, type RailPart } from './part.js';

/** Rails that the search over pairs takes on where hardly anything may be wasted. */
const MOST_ITEMS = 700;
/** Rails that plans are drawn of or kept beside, where a search over all of them would take too long. */
const MOST_DRAWN = 1_200;
/** Rails from which on a dive strays at its bottom, and plans are drawn. */
const MANY_ITEMS = 150;
/** Plans tried for by drawing before the search over pairs, and then after so many of its nodes each. */
const FIRST_DRAWS = 8;
/** Of these, so many before the root of the search over pairs, where its table has so few cells that it is quick. */
const BEFORE_ROOT = 2;
const QUICK_ROOT = 250_000;
const STEP = 35;
const DRAWS = 3;
/** How many times as many where plans are sparse: each is quick. */
const SPARSE_TIMES = 30;
/** A rest beside sticks that are kept: how many times more rails after each that has no plan, how many at most, and of all. */
const WIDER = 1.3;
const MOST_KEEPING = 200;
const MOST_OF_ALL = 0.35;
/** The same where there is likely no plan. */
const FEW_KEEPING = 50;
const KEEPING_NODES = 60;

/**
 * The search over pairs for a plan that may waste hardly anything: sticks that every such plan cuts are taken out first.
 * For one group of whole pieces.
 */
export class RestPairs {
  private readonly certain: Certain;
  private readonly part: RailPart;
  /** What a plan at the mark can leave over in all, at most. */
  private readonly waste: number;
  private readonly rest: { readonly goal: SearchGoal; readonly mark: number };
  private search: PairSearch | null = null;
  private drawing: PlanDrawing | null = null;
  /** Whether plans were drawn, and sought beside sticks that are kept. */
  private begun = false;
  private readonly random = randomOf(1);
  /** Columns to begin with, then those met, of the whole instance. */
  private readonly given: readonly Column[];

  constructor(
    private readonly factories: readonly LpFactory[],
    instance: Instance,
    goal: SearchGoal,
    columns: readonly Column[],
    mark: number,
    work: EndingWork,
  ) {
    const waste = wasteWithin(instance, goal, instance.demand, mark);
    this.certain = certainSticks(instance, waste, work);
    this.waste = waste;
    this.rest = { goal, mark: mark - this.certain.sticks.length * goal.cost[0]! };
    this.part = partOf(instance, this.certain.demand);
    this.given = columns;
  }

  /** One group without limit, no earlier goal to hold to, and rails mostly needed once. */
  static serves(instance: Instance, goal: SearchGoal): boolean {
    return (
      instance.groups.length === 1 &&
      instance.groups[0]!.supply === Infinity &&
      goal.rows.length === 0 &&
      PairSearch.serves(instance, goal, Infinity)
    );
  }

  get columns(): readonly Column[] {
    const { part, search, given } = this;
    return [...given, ...(search?.columns ?? []).map((column) => part.outward(column))];
  }

  /** Whether `run` can come to anything. */
  get able(): boolean {
    const { certain, part } = this;
    return certain.none || part.instance.n <= MOST_DRAWN;
  }

  /** Whether the pricing table of all rails fits, and they are not too many. */
  private get searchable(): boolean {
    const { instance } = this.part;
    return instance.n <= MOST_ITEMS && holdsPart(instance, instance.n);
  }

  dispose(): void {
    this.search?.dispose();
  }

  /** Goes on where the last run stopped. */
  run(watch: Watch, nodes: number): BranchAnswer {
    const { certain, part, rest, factories, given } = this;
    if (!this.able) return { status: 'limit', plan: null };
    if (certain.none) return { status: 'infeasible', plan: null };
    if (part.instance.n === 0) return { status: 'found', plan: this.outward([]) };
    const columns = given.flatMap((column) => part.inward(column) ?? []);
    const many = part.instance.n >= MANY_ITEMS;
    if (many && !this.begun) {
      this.begun = true;
      if (PlanDrawing.serves(part.instance))
        this.drawing = new PlanDrawing(factories, part.instance, rest.goal, this.random, watch);
      const abound = this.drawing?.hope === 'plans abound';
      const quick = part.instance.n * part.instance.largest <= QUICK_ROOT;
      const early = abound ? this.drawn(quick ? BEFORE_ROOT : FIRST_DRAWS, watch) : null;
      if (early) return { status: 'found', plan: this.outward(early) };
      let listed = false;
      if (quick) {
        const search = this.begin(columns, watch);
        const { status, plan } = search.run(watch, 1);
        if (status !== 'limit') return { status, plan: plan && this.outward(plan) };
        listed = search.lists;
      }
      const late = abound && quick && !listed ? this.drawn(FIRST_DRAWS - BEFORE_ROOT, watch) : null;
      const plan = abound || listed ? late : this.besideKept(watch);
      if (plan) return { status: 'found', plan: this.outward(plan) };
    }
    if (!this.searchable) {
      const plan = this.drawn(FIRST_DRAWS, watch);
      return plan ? { status: 'found', plan: this.outward(plan) } : { status: 'limit', plan: null };
    }
    const search = this.search ?? this.begin(columns, watch);
    for (let done = 0; ; done += STEP) {
      const { status, plan } = search.run(watch, many ? STEP : nodes);
      if (status !== 'limit') return { status, plan: plan && this.outward(plan) };
      const whole = this.drawn(DRAWS, watch);
      if (whole) return { status: 'found', plan: this.outward(whole) };
      if (!many || done + STEP >= nodes || watch.over()) return { status, plan: null };
    }
  }

  private begin(columns: readonly Column[], watch: Watch): PairSearch {
    const { factories, part, rest } = this;
    this.search = new PairSearch(factories, part.instance, rest.goal, columns, rest.mark, watch);
    this.search.shallow = this.drawing?.hope === 'hardly any';
    return this.search;
  }

  private drawn(times: number, watch: Watch): Cutting[] | null {
    const { drawing } = this;
    if (!drawing || drawing.hope === 'hardly any') return null;
    const most = drawing.hope === 'sparse' ? SPARSE_TIMES * times : times;
    for (let k = 0; k < most && !watch.over(); k++) {
      const plan = drawing.run(watch);
      if (plan) return plan;
    }
    return null;
  }

  /** Where plans do not abound: beside sticks that are kept, then drawn. */
  private besideKept(watch: Watch): Cutting[] | null {
    for (const sticks of peeledAside(this.part.instance, this.waste, watch)) {
      const plan = this.keeping(sticks, watch);
      if (plan) return plan;
    }
    return this.drawn(FIRST_DRAWS, watch);
  }

  /** A plan that keeps most of these sticks: the first ones. Sought in ever wider rests while there is none. */
  private keeping(sticks: readonly Column[], watch: Watch): Cutting[] | null {
    const { part, rest, factories } = this;
    const { instance } = part;
    const demand = instance.demand.slice();
    for (const column of sticks) changeDemand(demand, column, -1);
    let rails = demand.reduce((sum, d) => sum + d, 0);
    const share = MOST_OF_ALL * instance.demand.reduce((sum, d) => sum + d, 0);
    const most = Math.min(this.drawing?.hope === 'hardly any' ? FEW_KEEPING : MOST_KEEPING, share);
    for (let kept = sticks.length; kept > 0 && rails < most && !watch.over(); ) {
      const inner = partOf(instance, demand);
      if (!holdsPart(inner.instance, inner.instance.n)) return null;
      const mark = rest.mark - kept * rest.goal.cost[0]!;
      const search = new PairSearch(factories, inner.instance, rest.goal, [], mark, watch);
      const { status, plan } = search.run(watch, KEEPING_NODES);
      search.dispose();
      if (plan) {
        const trimmed = trim(inner.instance, plan);
        return [
          ...sticks.slice(0, kept).map((column) => ({ column, times: 1 })),
          ...trimmed.map(({ column, times }) => ({ column: inner.outward(column), times })),
        ];
      }
      if (status !== 'infeasible') return null;
      for (const least = WIDER * rails; rails < least && kept > 0; )
        rails += changeDemand(demand, sticks[--kept]!, 1);
    }
    return null;
  }

  private outward(plan: readonly Cutting[]): Cutting[] {
    const { certain, part } = this;
    const sticks = certain.sticks.map((column) => ({ column, times: 1 }));
    return [...sticks, ...plan.map(({ column, times }) => ({ column: part.outward(column), times }))];
  }
}
