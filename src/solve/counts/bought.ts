import { fullest } from '../bounds/weight-duals.js';
import { type Column, type Cutting, trim } from '../columns/columns.js';
import { Knapsack } from '../columns/knapsack.js';
import { outward } from '../columns/translate.js';
import { grain, type SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import { costUnder, type Purchased } from '../instance/purchase.js';
import type { Watch } from '../instance/watch.js';
import { byRate, byRemainder, greedy } from '../packing/first.js';
import { Packer } from '../packing/pack.js';
import { Refiller } from '../packing/refill/refiller.js';
import { purchaseCost } from '../price.js';
import type { Pattern, Problem } from '../problem.js';
import { randomOf } from '../random.js';
import { GoalSearch, type Tools } from '../search/search.js';
import { type CountCosts, Counting, type CountVector } from './counting.js';
import { coverOf, type PieceCover, short } from './covers.js';

/** More groups than this make too many vectors of numbers. */
const MOST_GROUPS = 12;
/** Pieces a group up to which its cost curve is written out. */
const MOST_PIECES = 200_000;
/** Attempts at packing into given numbers of pieces, and bins times lengths they may look at. */
const PACKS = 10;
const PACK_EFFORT = 3e6;
/** Open vectors in a round, before those left open are tried harder. */
const MOST_OPEN = 6;
/** Vectors excluded one by one before more is tried at each. */
const FEW_DENIED = 2;
/** So many excluded without a cover: numbers of pieces say too little here. */
const MOST_DENIED = 4;
/** Cost of the largest piece where only wood counts: coarse, so that marks are few. */
const WOOD = 100;

/** What one goal's search over numbers bought needs from the engine. */
export interface BoughtTask {
  readonly problem: Problem;
  readonly instance: Instance;
  /** The goal that is to be least; the goals before it are held at `limits`. */
  readonly goal: number;
  readonly limits: readonly number[];
  readonly start: readonly Cutting[] | null;
  readonly tools: Tools;
  readonly seed: number;
  readonly watch: Watch;
  readonly report: (patterns: readonly Pattern[], value: number, bound: number) => void;
}

export interface BoughtAnswer extends Purchased {
  /** False: another search should go on from here, since numbers of pieces say too little. */
  readonly ended: boolean;
}

/** `useless`: numbers of pieces say too little here. */
export type CountRound = 'open' | 'ended' | 'useless';
/** Bins from which on only refilling packs. */
const MANY_BINS = 200;

function curvesOf({ problem, instance, goal }: BoughtTask): CountCosts[] | null {
  const items = instance.demand.reduce((sum, d) => sum + d, 0);
  if (items > MOST_PIECES) return null;
  return instance.groups.map(({ members, supply }): CountCosts => {
    const stock = problem.stocks[members[0]!]!;
    const most = Math.min(supply, items);
    const costs: number[][] = Array.from({ length: goal + 1 }, () => [0]);
    for (let n = 1; n <= most; n++) {
      const first = stock.purchase ? purchaseCost(stock.purchase, supply, n) : n * stock.costs[0]!;
      if (first === Infinity) break;
      for (const [g, curve] of costs.entries()) curve.push(g === 0 ? first : n * stock.costs[g]!);
    }
    return costs.map((curve) => Float64Array.from(curve));
  });
}

/**
 * One goal where packs and price breaks make the cost of n pieces a curve: the cheapest numbers of pieces that satisfy
 * every cover known are tried; either they hold a plan, which is then the best, or duals give a cover that they do not
 * satisfy (Benders decomposition; Hooker and Ottosson 2003). Vectors of which neither is found stay open, bound the
 * cost and are tried again with more effort.
 */
export class CountSearch {
  private readonly knapsack: Knapsack;
  private readonly holds: Float64Array;
  private readonly wood: readonly number[];
  private readonly covers: PieceCover[] = [];
  private readonly denied: Float64Array[] = [];
  private readonly random: () => number;
  private columns: readonly Column[];
  private best: Pattern[] | null = null;
  private value = Infinity;
  private bound = 0;

  constructor(
    private readonly task: BoughtTask,
    private readonly curves: readonly CountCosts[],
  ) {
    const { instance, watch, start } = task;
    this.knapsack = new Knapsack(instance, watch);
    this.holds = fullest(instance, this.knapsack, watch);
    this.columns = (start ?? []).map(({ column }) => column);
    this.random = randomOf(task.seed);
    this.wood = instance.groups.map(({ segments }) =>
      Math.max(1, Math.round((WOOD * segments.reduce((sum, c) => sum + c, 0)) / instance.largest)),
    );
    const length = coverOf(instance, { item: instance.weight, worth: this.holds });
    if (length) this.covers.push(length);
  }

  private take(plan: readonly Cutting[]): void {
    const { problem, instance, goal, limits } = this.task;
    const patterns = outward(problem, instance, trim(instance, plan));
    const kept = limits.every((limit, g) => costUnder(problem, g, patterns) <= limit);
    const cost = costUnder(problem, goal, patterns);
    if (!kept || cost >= this.value) return;
    [this.best, this.value] = [patterns, cost];
    this.tell();
  }

  private tell(): void {
    const { report } = this.task;
    if (this.best) report(this.best, this.value, Math.min(this.bound, this.value));
  }

  private raise(bound: number): void {
    if (bound <= this.bound) return;
    this.bound = bound;
    this.tell();
  }

  /** First fit decreasing at the average price of a piece. */
  private begin(): void {
    const { instance, start, goal } = this.task;
    if (start) this.take(start);
    const average = this.curves.map((own) => {
      const curve = own[goal]!;
      const n = Math.min(10, curve.length - 1);
      return n > 0 ? curve[n]! / n : 0;
    });
    const spare = Float64Array.from(this.curves, (own) => own[0]!.length - 1);
    for (const choice of [byRate, byRemainder]) {
      const plan = greedy(instance, average, choice, instance.demand, spare);
      if (plan) this.take(plan);
    }
  }

  /** Whether so many pieces hold a plan, which is then taken; undefined: neither found nor excluded. */
  private holdsPlan(pieces: Float64Array, round: number): boolean | undefined {
    const { instance, seed, tools, watch } = this.task;
    const groups = instance.groups.map((group, s) => ({ ...group, supply: pieces[s]! }));
    const given: Instance = { ...instance, groups };
    const plan = this.pack(given, pieces);
    if (plan) {
      this.take(plan);
      return true;
    }
    let cover: PieceCover | null = null;
    const total = this.wood.reduce((sum, cost, s) => sum + cost * pieces[s]!, 0);
    const goal: SearchGoal = { cost: this.wood, rows: [], unmade: null };
    const search = new GoalSearch(given, goal, this.knapsack, tools, seed + round, watch, () => undefined, {
      turns: 2 ** round,
      anyBelow: total + grain(goal),
      onDuals: (duals) => {
        const found = coverOf(instance, duals);
        if (!found || !short(found, pieces)) return false;
        cover = found;
        return true;
      },
    });
    const found = search.run(null, this.columns);
    this.columns = search.columns.length > 0 ? [...search.columns] : this.columns;
    search.dispose();
    if (found.plan) {
      this.take(found.plan);
      return true;
    }
    if (cover) {
      this.covers.push(cover);
      return false;
    }
    return found.none || found.bound > total ? false : undefined;
  }

  /**
   * Whether so many pieces hold a plan. Where they do not though no cover says so, more of them may not either: then all
   * that is no more than those is excluded at once.
   */
  private settle({ pieces }: CountVector, round: number): boolean | undefined {
    const covers = this.covers.length;
    const holds = this.holdsPlan(pieces, round);
    if (holds !== false || this.covers.length > covers) return holds;
    let most = pieces;
    for (let s = 0; s < pieces.length && this.denied.length >= FEW_DENIED; s++) {
      const more = most.slice();
      more[s] = this.curves[s]![0]!.length - 1;
      if (more[s]! > most[s]! && this.holdsPlan(more, round) === false) most = more;
    }
    this.denied.push(most);
    return false;
  }

  private pack(given: Instance, pieces: Float64Array): Cutting[] | null {
    if (given.kinds) return null;
    const { watch } = this.task;
    const bins = pieces.reduce((sum, k) => sum + k, 0);
    const attempts = Math.min(PACKS, Math.ceil(PACK_EFFORT / (bins * given.n)));
    const refiller = new Refiller(given, this.random, watch);
    if (refiller.serves(bins)) {
      const plan = refiller.attempt(pieces);
      if (plan || bins > MANY_BINS) return plan;
    }
    const packer = new Packer(given, this.random, watch);
    for (let k = 0; k < attempts && !watch.over(); k++) {
      const plan = packer.attempt(pieces);
      if (plan) return plan;
    }
    return null;
  }

  /** What is known from elsewhere. */
  know(plan: readonly Cutting[] | null, bound: number, columns: readonly Column[]): void {
    if (plan) this.take(plan);
    this.raise(bound);
    if (this.columns.length === 0) this.columns = columns;
  }

  /** Tries the cheapest numbers of pieces that are not ruled out, with more effort each round. */
  round(round: number): CountRound {
    const { limits, watch } = this.task;
    const open: CountVector[] = [];
    for (;;) {
      const excluded = [...this.denied, ...open.map(({ pieces }) => pieces)];
      const counting = new Counting(this.curves, limits, this.covers, excluded, watch);
      const next = counting.cheapest(this.value);
      if (next === undefined || this.denied.length > MOST_DENIED) return 'useless';
      const floor = Math.min(this.value, next?.cost ?? Infinity, open[0]?.cost ?? Infinity);
      if (floor < Infinity) this.raise(floor);
      if (next === null || open.length >= MOST_OPEN || watch.over()) break;
      if (this.settle(next, round) === undefined) open.push(next);
    }
    return open.length === 0 || this.bound >= this.value || watch.over() ? 'ended' : 'open';
  }

  run(): BoughtAnswer {
    this.begin();
    for (let round = 0; ; round++) {
      const state = this.round(round);
      if (state !== 'open') return this.answer(state === 'ended');
    }
  }

  answer(ended: boolean): BoughtAnswer {
    const none = ended && this.best === null && !this.task.watch.over();
    const bound = Math.min(this.bound, this.value);
    return { patterns: this.best, value: this.value, bound, none, ended };
  }
}

/** Null where this search does not serve: set-ups, too many kinds of stock, or too many pieces. */
export function countSearch(task: BoughtTask): CountSearch | null {
  if (task.problem.setups || task.instance.groups.length > MOST_GROUPS) return null;
  const curves = curvesOf(task);
  return curves && new CountSearch(task, curves);
}
