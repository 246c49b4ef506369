import { type Column, type Cutting, serves, trim } from './columns/columns.js';
import { Knapsack } from './columns/knapsack.js';
import { inward, outward } from './columns/translate.js';
import { countSearch } from './counts/bought.js';
import { turnAbout } from './counts/turn-about.js';
import { type CountRow, columnWeight, type SearchGoal } from './instance/goal.js';
import { type Instance, prepare } from './instance/instance.js';
import { costUnder, type Purchased, purchased, type SolveLinear } from './instance/purchase.js';
import { type Watch, watchOf } from './instance/watch.js';
import { highsLp } from './lp/highs-lp.js';
import type { HighsRuntime } from './lp/highs-runtime.js';
import { jsLp } from './lp/js-lp.js';
import type { LpFactory } from './lp/lp.js';
import { simplexLp } from './lp/simplex-lp.js';
import type { Outcome, Pattern, Problem, Proof, Solved, SolveOptions } from './problem.js';
import { GoalSearch, type Tools } from './search/search.js';

export { costUnder };

export interface Engine {
  /** Solves one problem; never throws for a well-formed one. */
  solve(problem: Problem, options: SolveOptions): Outcome;
}

export interface EngineOptions {
  /** The HiGHS library; called when a search first needs it, so it may be loaded only then. */
  readonly highs: HighsRuntime;
  /** LP libraries in the order they are tried: javascript-lp-solver for small masters, then our own simplex, then HiGHS. */
  readonly lps?: readonly LpFactory[];
}

/** Rows up to which javascript-lp-solver is the quicker one; measured, see DEVELOPERS.md. */
const SMALL_MASTER = 24;
/** Turns of the search spent on one node of the purchase tree. */
const NODE_TURNS = 2;

/** What the plan comes to by such weights of pieces and of the items set up on them. */
function spent(plan: readonly Cutting[], row: Omit<CountRow, 'limit'>): number {
  const weigh = { ...row, limit: 0 };
  return plan.reduce(
    (sum, { column, times }) => (column.items.length > 0 ? sum + times * columnWeight(weigh, column) : sum),
    0,
  );
}

function fitsAll(instance: Instance): boolean {
  const start = instance.kinds?.start;
  for (let i = 0; i < instance.n; i++) {
    if (instance.weight[i]! + (start?.[instance.kind[i]!] ?? 0) > instance.largest) return false;
  }
  return instance.groups.length > 0;
}

function proofOf(value: number, bound: number): Proof {
  const status = bound >= value ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return { status, value, bound: Math.min(bound, value) };
}

/** The patterns as a plan of this problem, when they make everything from what is in stock and can be bought. */
function usable(problem: Problem, start: readonly Pattern[]): readonly Pattern[] | null {
  const instance = prepare(problem);
  const plan = trim(instance, inward(instance, start));
  if (!serves(instance, plan)) return null;
  const patterns = outward(problem, instance, plan);
  return costUnder(problem, 0, patterns) < Infinity ? patterns : null;
}

/** Cost of one piece of each group, and of the items set up on it, under each goal. */
function costsOf(problem: Problem, instance: Instance): Omit<CountRow, 'limit'>[] {
  const { setups } = problem;
  return Array.from({ length: problem.goals }, (_, g) => {
    const of = g === 0 && setups ? setups : null;
    const piece = of?.piece ?? 0;
    return {
      weights: instance.groups.map((group) => problem.stocks[group.members[0]!]!.costs[g]! + piece),
      setup: of?.item.some((charge) => charge > 0)
        ? Float64Array.from(instance.order, (i) => of.item[i]!)
        : null,
    };
  });
}

function goalOf({ weights, setup }: Omit<CountRow, 'limit'>, rows: readonly CountRow[]): SearchGoal {
  return { cost: weights, setup: setup ?? null, rows, unmade: null };
}

/** `solved` is put together only where somebody listens. */
function tell({ onImproved, enough }: SolveOptions, watch: Watch, solved: () => Solved): void {
  const told = onImproved || enough ? solved() : null;
  if (told) onImproved?.(told);
  watch.met();
  if (told && enough) watch.limit(enough(told));
}

class CuttingEngine implements Engine {
  constructor(private readonly tools: Tools) {}

  solve(problem: Problem, options: SolveOptions): Outcome {
    if (problem.items.length === 0) {
      const proofs = Array.from({ length: problem.goals }, () => proofOf(0, 0));
      return { kind: 'solved', patterns: [], proofs, work: 0 };
    }
    const watch = watchOf(options);
    return problem.stocks.some((stock) => stock.purchase)
      ? this.solveBought(problem, options, watch)
      : this.solveGoals(problem, options, watch);
  }

  /** Plain prices: goal after goal, each kept while the next is improved. */
  private solveGoals(problem: Problem, options: SolveOptions, watch: Watch): Outcome {
    const instance = prepare(problem);
    if (!fitsAll(instance)) return { kind: 'none', proven: true, work: 0 };
    const knapsack = new Knapsack(instance, watch);
    const costs = costsOf(problem, instance);
    const bounds: number[] = [];
    let plan: readonly Cutting[] | null = options.start ? inward(instance, options.start) : null;
    let columns: readonly Column[] = (plan ?? []).map((cutting) => cutting.column);
    // A later goal's plan may do better on an earlier one that was not proven, so every value is read off the plan.
    const outcome = (cuttings: readonly Cutting[], last: readonly number[]): Solved => ({
      kind: 'solved',
      patterns: outward(problem, instance, cuttings),
      proofs: costs.map((cost, g) => proofOf(spent(cuttings, cost), [...bounds, ...last][g] ?? 0)),
      work: watch.spent,
    });
    // Numbers before the first dive: of a rack's few pieces a dive is as quick, and plans stay what they were.
    const limited = instance.groups.some(({ supply }) => Number.isFinite(supply));
    for (let g = 0; g < problem.goals; g++) {
      const rows = bounds.map((_, k) => ({ ...costs[k]!, limit: spent(plan!, costs[k]!) }));
      const goal = goalOf(costs[g]!, rows);
      const search = new GoalSearch(
        instance,
        goal,
        knapsack,
        this.tools,
        options.seed,
        watch,
        (found) => {
          const { plan: improved, bound } = found;
          if (improved) tell(options, watch, () => outcome(improved, [bound]));
        },
        instance.groups.length > 1 ? { turns: limited ? 1 : 0 } : {},
      );
      search.run(plan, columns);
      if (instance.groups.length > 1) {
        turnAbout({ problem, instance, goal: g, rows, search, tools: this.tools, seed: options.seed, watch });
      }
      const found = search.found();
      columns = search.columns;
      search.dispose();
      if (!found.plan) {
        if (g > 0) break;
        const proven = found.none || this.provesNone(instance, knapsack, options, watch);
        return { kind: 'none', proven, work: watch.spent };
      }
      plan = found.plan;
      bounds.push(found.bound);
    }
    return outcome(plan!, []);
  }

  /** Nothing was found: the least length left unmade has a bound above nothing where that is no wonder. */
  private provesNone(instance: Instance, knapsack: Knapsack, { seed }: SolveOptions, watch: Watch): boolean {
    const goal: SearchGoal = { cost: instance.groups.map(() => 0), rows: [], unmade: [...instance.weight] };
    const search = new GoalSearch(instance, goal, knapsack, this.tools, seed, watch, () => undefined);
    const found = search.run(null, []);
    search.dispose();
    return found.bound > 0;
  }

  /** One goal over plain prices, the goals before it held. */
  private solveLinear(
    problem: Problem,
    g: number,
    limits: readonly number[],
    { seed }: SolveOptions,
    watch: Watch,
  ): Purchased {
    const instance = prepare(problem);
    if (!fitsAll(instance)) return { patterns: null, value: Infinity, bound: 0, none: true };
    const costs = costsOf(problem, instance);
    const goal = goalOf(
      costs[g]!,
      limits.map((limit, k) => ({ ...costs[k]!, limit })),
    );
    const knapsack = new Knapsack(instance, watch);
    const ignore = (): void => undefined;
    const search = new GoalSearch(instance, goal, knapsack, this.tools, seed, watch, ignore, {
      turns: NODE_TURNS,
      brief: true,
    });
    const found = search.run(null, []);
    search.dispose();
    return { ...found, patterns: found.plan ? outward(problem, instance, found.plan) : null };
  }

  /** Packs and price breaks: numbers of pieces by covers; where these say too little, branch and bound over the numbers bought. */
  private solveBought(problem: Problem, options: SolveOptions, watch: Watch): Outcome {
    const instance = prepare(problem);
    if (!fitsAll(instance)) return { kind: 'none', proven: true, work: 0 };
    const bounds: number[] = [];
    let patterns = options.start ? usable(problem, options.start) : null;
    const outcome = (plan: readonly Pattern[], last: readonly number[]): Solved => ({
      kind: 'solved',
      patterns: plan,
      proofs: Array.from({ length: problem.goals }, (_, g) =>
        proofOf(costUnder(problem, g, plan), [...bounds, ...last][g] ?? 0),
      ),
      work: watch.spent,
    });
    for (let g = 0; g < problem.goals; g++) {
      const limits = bounds.map((_, k) => costUnder(problem, k, patterns!));
      const report = (plan: readonly Pattern[], _: number, bound: number): void =>
        tell(options, watch, () => outcome(plan, [bound]));
      const start: readonly Cutting[] | null = patterns && inward(instance, patterns);
      const counted = countSearch({
        problem,
        instance,
        goal: g,
        limits,
        start,
        tools: this.tools,
        seed: options.seed,
        watch,
        report,
      })?.run();
      const solve: SolveLinear = (sub, goal, held) => this.solveLinear(sub, goal, held, options, watch);
      const known = counted?.patterns ?? patterns;
      const proven = counted?.bound ?? 0;
      const more: typeof report = (plan, value, bound) => report(plan, value, Math.max(bound, proven));
      const searched = counted?.ended ? counted : purchased(problem, g, limits, known, watch, solve, more);
      const found = { ...searched, bound: Math.max(searched.bound, proven) };
      if (!found.patterns) return { kind: 'none', proven: found.none, work: watch.spent };
      patterns = found.patterns;
      bounds.push(found.bound);
    }
    return outcome(patterns!, []);
  }
}

/** An engine may be used for any number of problems, one after the other. */
export function createEngine({ highs, lps }: EngineOptions): Engine {
  const small: LpFactory = { ...jsLp, mostRows: SMALL_MASTER };
  return new CuttingEngine({ factories: lps ?? [small, simplexLp, highsLp(highs)], highs });
}
