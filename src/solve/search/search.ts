import { functionBound } from '../bounds/bound.js';
import { targets } from '../bounds/targets.js';
import { fullest, weightDuals } from '../bounds/weight-duals.js';
import type { Column, Cutting } from '../columns/columns.js';
import type { Knapsack } from '../columns/knapsack.js';
import { Master } from '../columns/master.js';
import { serveSubstitutes } from '../columns/substitutes.js';
import { hasSetups, leastSetups, type SearchGoal } from '../instance/goal.js';
import { fitsOf, type Instance } from '../instance/instance.js';
import { leastWaste } from '../instance/waste.js';
import type { Watch } from '../instance/watch.js';
import type { HighsRuntime } from '../lp/highs-runtime.js';
import type { LpFactory } from '../lp/lp.js';
import { packBlocks } from '../packing/blocks.js';
import { byRate, byRemainder, greedy } from '../packing/first.js';
import { packAll, packEqual, packRest, packRoughly } from '../packing/packing.js';
import { randomOf } from '../random.js';
import { exchanges } from '../setups/exchange.js';
import { SetupSearch } from '../setups/setups.js';
import { PairSearch } from './branch.js';
import { Completion } from './completion.js';
import { dive } from './dive.js';
import { Generation } from './generation.js';
import { type Found, type SearchLimits, Standing } from './standing.js';
import { RestPairs } from './tight/rest-pairs.js';

export interface Tools {
  /** Tried in order: the first that takes the number of rows; when it fails, the next. */
  readonly factories: readonly LpFactory[];
  readonly highs: HighsRuntime;
}

/** So few items have few patterns: the search from below comes before anything dearer. */
const FEW_ITEMS = 12;
/** Rounds of the search over set-ups before the first dive: it finds better plans than dives do. */
const FIRST_ROUNDS = 3;
/** Attempts at one vector of pieces once a dive has failed. */
const FIRST_PACKS = 20;
/** From so many pieces on the root is solved on before the first dive, a few rounds a step, and packed after each. */
const MANY_PIECES = 200;
const MOST_STEPS = 40;
const FIRST_ROOT_ROUNDS = 8;
const STEP_ROUNDS = 4;
/** Columns of a step that leave the root as it was. */
const FEW_COLUMNS = 4;

/** Patterns of a plan that the root begins with, for each item. */
const PLAN_COLUMNS_AN_ITEM = 2;

/** Waste of a whole plan, in stick lengths, that is hardly any. */
const TIGHT = 0.005;

/** The search for one goal: bounds first, then column generation, dives, and searches from below. */
export class GoalSearch extends Standing {
  /** Most of each item that one piece holds, and the least that set-ups come to. */
  private readonly fits: Int32Array;
  private readonly setups: number;
  private master: Master | null = null;
  private completion: Completion | null = null;
  private fullest: Float64Array | null = null;
  /** What an item is worth by its length, in units of the goal. */
  private byLength: Float64Array | null = null;
  private generation: Generation | null = null;
  /** Where set-ups cost and the search for them serves. */
  private setting: SetupSearch | null = null;
  private readonly random: () => number;
  /** False where the linear programme could not be solved on. */
  private packed = true;
  /** Turns begun. */
  private turn = 0;

  constructor(
    instance: Instance,
    goal: SearchGoal,
    private readonly knapsack: Knapsack,
    private readonly tools: Tools,
    seed: number,
    watch: Watch,
    onImproved: (found: Found) => void,
    limits: SearchLimits = {},
  ) {
    super(instance, goal, watch, onImproved, limits);
    this.fits = fitsOf(instance);
    this.setups = leastSetups(goal, instance.demand, this.fits);
    this.random = randomOf(seed);
  }

  /** Columns met so far, to start the next goal with. */
  get columns(): readonly Column[] {
    return this.master?.columns ?? [];
  }

  /** Few items have few patterns, and the searches from below come to their end. */
  private get few(): boolean {
    return this.instance.n <= FEW_ITEMS;
  }

  /** So many pieces that what the root leaves fractional has all the waste of the plan to itself. */
  private get large(): boolean {
    return (this.plan ?? []).reduce((sum, { times }) => sum + times, 0) >= MANY_PIECES;
  }

  run(start: readonly Cutting[] | null, columns: readonly Column[]): Found {
    if (start) this.take(start);
    this.quick();
    if (!this.done && this.plan) this.weighSetups();
    const met = !this.done && !this.watch.over() && this.tight() ? this.pairsFirst(columns) : columns;
    if (!this.done && !this.watch.over()) this.generate(met);
    if (!this.done && !this.watch.over() && this.master) {
      this.packed = this.packFirst(this.master);
      if (this.packed && !this.watch.over()) this.proveFirst(this.master);
    }
    return this.more(this.limits.turns ?? Infinity);
  }

  /** So many turns of dives and searches from below, after those of before; 0 at first: the root alone, packed. */
  more(turns: number): Found {
    if (!this.done && !this.watch.over() && this.master && this.packed) this.improve(turns);
    return this.found();
  }

  dispose(): void {
    this.completion?.dispose();
    this.setting?.dispose();
    this.master?.dispose();
  }

  /** Plans and bounds where set-ups are weighed against wood. */
  private weighSetups(): void {
    const { instance, goal, knapsack, fullest: holds, setups: least, random, tools } = this;
    if (!holds || this.limits.brief === true || !exchanges(instance, goal)) return;
    const rows = instance.n + instance.groups.length;
    const factory = tools.factories.find(({ mostRows }) => rows <= mostRows);
    if (!factory) return;
    const { highs } = tools;
    const task = { instance, goal, knapsack, factory, highs, holds, least, random };
    this.setting = new SetupSearch(task, this);
    for (let round = 0; !this.few && round < FIRST_ROUNDS && !this.done && !this.watch.over(); round++)
      this.setting.round(this.plan!);
  }

  private quick(): void {
    const { instance, goal } = this;
    const spare = Float64Array.from(instance.groups, (group) => group.supply);
    // Of one group there is nothing to choose.
    for (const choice of instance.groups.length > 1 ? [byRate, byRemainder] : [byRate]) {
      const plan = greedy(instance, goal.cost, choice, instance.demand, spare);
      if (plan) this.take(plan);
    }
    const group = instance.groups[0];
    if (instance.groups.length === 1 && group && group.segments.length === 1 && goal.cost[0]! > 0) {
      const enough = Math.ceil((this.value - this.setups) / goal.cost[0]!);
      this.raise(functionBound(instance, enough) * goal.cost[0]! + this.setups);
    }
    if (this.done || goal.unmade) return;
    const repacked = packEqual(instance, goal, this.random, this);
    if (this.done || (repacked && this.watch.over())) return;
    const roughly = !repacked && packRoughly(instance, goal, this.setups, this.random, this);
    if (roughly && (this.done || this.watch.over())) return;
    const before = this.bound;
    this.fullest = fullest(instance, this.knapsack, this.watch);
    const duals = weightDuals(instance, goal, this.fullest);
    if (duals) {
      this.prove(duals);
      this.byLength = duals.item.map((value) => value / duals.scale);
    }
    if (roughly) {
      const { bound } = targets(instance, goal, this.fullest, this.value - this.setups, 1);
      if (bound > 0) this.raise(bound + this.setups);
    }
    if (!repacked && (!roughly || this.bound > before)) this.pack(1);
    this.packBlocks();
  }

  private pack(times: number): void {
    if (this.fullest) packAll(this.instance, this.goal, this.fullest, this.setups, times, this.random, this);
  }

  private packBlocks(): void {
    const { instance, goal, fullest: holds, fits, setups, random } = this;
    if (holds && goal.setup) packBlocks(instance, goal, holds, fits, setups, random, this);
  }

  private packRest(master: Master, attempts: number): void {
    if (this.fullest) packRest(master, this.fullest, attempts, this.random, this);
  }

  private begin(columns: readonly Column[], factory: LpFactory): Master {
    const { instance, goal, knapsack, watch } = this;
    const master = new Master(instance, goal, knapsack, factory, watch, serveSubstitutes(instance, goal));
    // Those cut most: packing leaves many hundreds of sticks with a pattern each.
    const plan = [...(this.plan ?? [])].sort((a, b) => b.times - a.times);
    for (const { column } of plan.slice(0, PLAN_COLUMNS_AN_ITEM * instance.n)) master.add(column);
    for (const column of columns) master.add(column);
    for (const column of this.seeds) master.add(column);
    return master;
  }

  /**
   * Whether a plan at the bound may waste hardly anything. Then few patterns serve, and a search that knows only those
   * finds such a plan before the linear programme over all patterns comes to its end.
   */
  private tight(): boolean {
    const { instance, goal, bound, value, grain } = this;
    if (value === Infinity) return false;
    const exact = instance.unit === 1 && PairSearch.serves(instance, goal);
    if (!exact && !RestPairs.serves(instance, goal)) return false;
    return leastWaste(instance, goal, Math.min(bound, value - grain)) <= TIGHT * instance.largest;
  }

  private pairsFirst(columns: readonly Column[]): readonly Column[] {
    this.completion = this.fromBelow();
    const known = [...columns, ...(this.plan ?? []).map(({ column }) => column), ...this.seeds];
    return this.completion.pairsFirst(known);
  }

  /** Column generation at the root; the LP library that fails gives way to the next. */
  private generate(columns: readonly Column[]): void {
    const rows = this.instance.n + this.instance.groups.length + this.goal.rows.length;
    for (const factory of this.tools.factories) {
      if (rows > factory.mostRows) continue;
      const known = [...columns, ...this.columns];
      this.master?.dispose();
      this.master = this.begin(known, factory);
      this.generation = new Generation(this.master, this.byLength, this.grain, this);
      const served = this.generation.converge(this.large ? { rounds: FIRST_ROOT_ROUNDS } : {});
      this.master.pricing.blunt();
      if (served || this.watch.over()) return;
    }
    // No library served to the end: what was found stays, and nothing is claimed from it.
  }

  private diveOnce(master: Master, below: number, backs: number, breadth: number, noise: () => number): void {
    dive(master, {
      below,
      grain: this.grain,
      backs,
      breadth,
      noise,
      watch: this.watch,
      fits: this.fits,
      onPlan: (plan) => {
        this.take(plan);
      },
    });
  }

  /** Dives with more and more discrepancy, and between them searches from below. */
  private improve(turns: number): void {
    const master = this.master!;
    const { random } = this;
    const paired = PairSearch.serves(this.instance, this.goal);
    const { few } = this;
    for (const end = this.turn + turns; this.turn < end && !this.done && !this.watch.over(); ) {
      const turn = this.turn++;
      const before = this.value;
      if (turn > 0 && this.plan) this.setting?.round(this.plan);
      if (this.done || this.watch.over()) return;
      // Turn about: any better plan, or with more patience one at the bound itself, which ends the search.
      const below = turn % 2 === 0 ? this.value : Math.min(this.value, this.bound + this.grain);
      const backs = turn % 2 === 0 ? 20 + 20 * turn : 400;
      this.diveOnce(master, below, backs, 2 + (turn >> 1), turn < 2 ? () => 0 : random);
      if (turn === 0 && few) {
        this.packRest(master, FIRST_PACKS);
        this.pack(FIRST_PACKS);
        this.complete(master, turn);
      }
      if (this.done || this.watch.over() || !this.root(master, turn > 0)) return;
      if (turn === 0) {
        if (this.value === before && paired && !few) this.complete(master, 0);
        continue;
      }
      this.packRest(master, FIRST_PACKS * turn);
      this.pack(10 * turn);
      this.packBlocks();
      if (this.value === before && (paired || turn < 3 || turn % 3 === 2)) this.complete(master, turn);
      if (turn < 3 && !this.done && !this.root(master, false)) return;
    }
  }

  /**
   * Before the first dive: the master rounded down, the rest packed. Where pieces are many that leaves more room a piece
   * than the whole does, and the less the root's columns waste, the more. False: the search is over.
   */
  private packFirst(master: Master): boolean {
    this.packRest(master, FIRST_PACKS);
    for (let step = 0; this.large && step < MOST_STEPS && !this.done; step++) {
      const known = master.columns.length;
      const served = this.generation!.converge({ full: true, rounds: STEP_ROUNDS });
      if (!served || master.solve(this.watch.seconds()) === null) return false;
      this.packRest(master, FIRST_PACKS);
      if (master.columns.length <= known + FEW_COLUMNS) break;
    }
    return !this.done;
  }

  /** One stock length on an exact grid: a plan or a proof from few columns, before any dive. */
  private proveFirst(master: Master): void {
    const { instance, goal, plan } = this;
    if (instance.unit !== 1 || instance.groups.length > 1 || goal.unmade || hasSetups(goal) || !plan) return;
    this.completion ??= this.fromBelow();
    this.completion.few(master);
  }

  private fromBelow(): Completion {
    const { tools, instance, goal, grain, fullest } = this;
    return new Completion(tools.highs, tools.factories, instance, goal, grain, fullest, this);
  }

  private complete(master: Master, turn: number): void {
    if (this.goal.unmade || this.done) return;
    this.completion ??= this.fromBelow();
    this.completion.run(master, turn);
  }

  /** Solves the root again, to the end, so that the next dive starts from columns that waste least. */
  private root(master: Master, sharp: boolean): boolean {
    const served = this.generation!.converge({ full: true, sharp });
    master.pricing.blunt();
    return served && master.solve(this.watch.seconds()) !== null;
  }
}
