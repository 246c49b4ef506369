import type { Highs } from 'highs';
import { type Column, type Cutting, columnOf, lengthOf, usage } from './columns.js';
import type { CountRow, Goal } from './goal.js';
import { highsLp, loadHighsRuntime } from './highs-lp.js';
import { type Instance, prepare } from './instance.js';
import { jsLp } from './js-lp.js';
import { Knapsack } from './knapsack.js';
import type { LpFactory } from './lp.js';
import type { Outcome, Pattern, Problem, Proof, Solved, SolveOptions } from './problem.js';
import { purchased } from './purchase.js';
import { Search, type Tools } from './search.js';

export interface Engine {
  /** Solves one problem; never throws for a well-formed one. */
  solve(problem: Problem, options: SolveOptions): Outcome;
}

export interface EngineOptions {
  /** LP libraries in the order they are tried; javascript-lp-solver for small masters, HiGHS for the rest. */
  readonly lps?: readonly LpFactory[];
}

/** Rows up to which javascript-lp-solver is the quicker one; measured, see DEVELOPERS.md. */
const SMALL_MASTER = 24;
/** Turns of the search spent on one node of the purchase tree. */
const NODE_TURNS = 2;

function inward(instance: Instance, patterns: readonly Pattern[]): Cutting[] {
  const lane = new Map<number, number>();
  instance.lanes.forEach((l, s) => {
    for (const member of l.members) lane.set(member, s);
  });
  const place = new Map([...instance.order].map((item, i) => [item, i]));
  const cuttings: Cutting[] = [];
  for (const pattern of patterns) {
    const s = lane.get(pattern.stock);
    if (s === undefined || pattern.segments.length > instance.lanes[s]!.segments.length) continue;
    const parts = Array.from(instance.lanes[s]!.segments, (_, k) => {
      const entries = (pattern.segments[k] ?? [])
        .map(({ item, count }) => ({ i: place.get(item) ?? -1, count }))
        .filter(({ i, count }) => i >= 0 && count > 0)
        .sort((a, b) => a.i - b.i);
      return {
        items: Int32Array.from(entries, (entry) => entry.i),
        counts: Int32Array.from(entries, (entry) => Math.min(entry.count, instance.demand[entry.i]!)),
      };
    });
    const fits = parts.every((part, k) => lengthOf(instance, part) <= instance.lanes[s]!.segments[k]!);
    if (fits) cuttings.push({ column: columnOf(instance.n, s, parts), times: pattern.count });
  }
  return cuttings;
}

function outward(problem: Problem, instance: Instance, plan: readonly Cutting[]): Pattern[] {
  const left = new Map<number, number>();
  for (const [s, stock] of problem.stocks.entries()) left.set(s, stock.supply ?? Infinity);
  const patterns: Pattern[] = [];
  for (const { column, times } of plan) {
    let rest = times;
    for (const stock of instance.lanes[column.lane]!.members) {
      const count = Math.min(rest, left.get(stock)!);
      if (count <= 0) continue;
      left.set(stock, left.get(stock)! - count);
      rest -= count;
      const segments = column.parts.map((part) =>
        Array.from(part.items, (i, e) => ({ item: instance.order[i]!, count: part.counts[e]! })).sort(
          (a, b) => a.item - b.item,
        ),
      );
      patterns.push({ stock, count, segments });
    }
  }
  return patterns;
}

function spent(instance: Instance, plan: readonly Cutting[], cost: readonly number[]): number {
  return usage(instance, plan).reduce((sum, pieces, s) => sum + (pieces > 0 ? pieces * cost[s]! : 0), 0);
}

function fitsAll(instance: Instance): boolean {
  const start = instance.kinds?.start;
  for (let i = 0; i < instance.n; i++) {
    if (instance.weight[i]! + (start?.[instance.kind[i]!] ?? 0) > instance.largest) return false;
  }
  return instance.lanes.length > 0;
}

function proofOf(value: number, bound: number): Proof {
  const status = bound >= value ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return { status, value, bound: Math.min(bound, value) };
}

interface Linear {
  readonly patterns: readonly Pattern[] | null;
  readonly value: number;
  readonly bound: number;
  readonly none: boolean;
}

class CuttingEngine implements Engine {
  constructor(private readonly tools: Tools) {}

  solve(problem: Problem, options: SolveOptions): Outcome {
    if (problem.items.length === 0) {
      const proofs = Array.from({ length: problem.goals }, () => proofOf(0, 0));
      return { kind: 'solved', patterns: [], proofs };
    }
    return problem.stocks.some((stock) => stock.purchase)
      ? this.solveBought(problem, options)
      : this.solveGoals(problem, 0, [], options.start ?? null, [], options);
  }

  /** Goals from `first` on, each kept while the next is improved; `before` are the proofs of the goals before. */
  private solveGoals(
    problem: Problem,
    first: number,
    before: readonly Proof[],
    start: readonly Pattern[] | null,
    held: readonly CountRow[],
    options: SolveOptions,
  ): Outcome {
    const instance = prepare(problem);
    if (!fitsAll(instance)) return { kind: 'none', proven: true };
    const knapsack = new Knapsack(instance);
    const costs = Array.from({ length: problem.goals }, (_, g) =>
      instance.lanes.map((lane) => problem.stocks[lane.members[0]!]!.costs[g] ?? 0),
    );
    const proofs = [...before];
    const rows = [...held];
    let plan: readonly Cutting[] | null = start ? inward(instance, start) : null;
    let columns: readonly Column[] = (plan ?? []).map((cutting) => cutting.column);
    const outcome = (patterns: readonly Cutting[], proven: readonly Proof[]): Solved => ({
      kind: 'solved',
      patterns: outward(problem, instance, patterns),
      proofs: costs.map((cost, g) => proven[g] ?? proofOf(spent(instance, patterns, cost), 0)),
    });
    for (let g = first; g < problem.goals; g++) {
      const goal: Goal = { cost: costs[g]!, rows: [...rows], unmade: null };
      const search = new Search(instance, goal, knapsack, this.tools, options, (found) => {
        if (found.plan)
          options.onImproved?.(outcome(found.plan, [...proofs, proofOf(found.value, found.bound)]));
      });
      const found = search.run(plan, columns);
      columns = search.columns;
      search.dispose();
      if (!found.plan) {
        if (g > first && plan) break;
        return { kind: 'none', proven: found.none || this.provesNone(instance, knapsack, options) };
      }
      plan = found.plan;
      proofs.push(proofOf(found.value, found.bound));
      rows.push({ weights: costs[g]!, limit: spent(instance, plan, costs[g]!) });
    }
    return outcome(plan!, proofs);
  }

  /** Nothing was found: the least length left unmade has a bound above nothing where that is no wonder. */
  private provesNone(instance: Instance, knapsack: Knapsack, options: SolveOptions): boolean {
    const goal: Goal = { cost: instance.lanes.map(() => 0), rows: [], unmade: [...instance.weight] };
    const search = new Search(instance, goal, knapsack, this.tools, options, () => undefined);
    const found = search.run(null, []);
    search.dispose();
    return found.bound > 0;
  }

  /** One goal over plain prices. */
  private solveLinear(problem: Problem, options: SolveOptions): Linear {
    const instance = prepare(problem);
    if (!fitsAll(instance)) return { patterns: null, value: Infinity, bound: 0, none: true };
    const goal: Goal = {
      cost: instance.lanes.map((lane) => problem.stocks[lane.members[0]!]!.costs[0]!),
      rows: [],
      unmade: null,
    };
    const knapsack = new Knapsack(instance);
    const search = new Search(instance, goal, knapsack, this.tools, options, () => undefined, NODE_TURNS);
    const found = search.run(null, []);
    search.dispose();
    return { ...found, patterns: found.plan ? outward(problem, instance, found.plan) : null };
  }

  /** Packs and price breaks: goal 0 by branch and bound over the numbers bought, the rest at those numbers. */
  private solveBought(problem: Problem, options: SolveOptions): Outcome {
    const report = (patterns: readonly Pattern[], value: number, bound: number): void => {
      const rest = Array.from({ length: problem.goals - 1 }, (_, g) =>
        proofOf(
          patterns.reduce((sum, p) => sum + p.count * problem.stocks[p.stock]!.costs[g + 1]!, 0),
          0,
        ),
      );
      options.onImproved?.({ kind: 'solved', patterns, proofs: [proofOf(value, bound), ...rest] });
    };
    const found = purchased(problem, options, (sub) => this.solveLinear(sub, options), report);
    if (!found.patterns) return { kind: 'none', proven: found.none };
    const first = proofOf(found.value, found.bound);
    // The later goals keep to pieces that cost no more: the numbers used of each stock with packs or breaks.
    const used = problem.stocks.map(() => 0);
    for (const p of found.patterns) used[p.stock]! += p.count;
    const instance = prepare(problem);
    const rows = instance.lanes.flatMap((lane, s) => {
      const dear = lane.members.some((m) => problem.stocks[m]!.purchase || problem.stocks[m]!.costs[0]! > 0);
      const limit = lane.members.reduce((sum, m) => sum + used[m]!, 0);
      return dear ? [{ weights: instance.lanes.map((_, t) => (t === s ? 1 : 0)), limit }] : [];
    });
    if (problem.goals === 1) return { kind: 'solved', patterns: found.patterns, proofs: [first] };
    const outcome = this.solveGoals(problem, 1, [first], found.patterns, rows, options);
    if (outcome.kind === 'none') return outcome;
    // Other numbers at the same cost might do better on the later goals, so their bounds hold only where they are 0.
    const proofs = outcome.proofs.map((proof, g) => (g === 0 ? proof : proofOf(proof.value, 0)));
    return { ...outcome, proofs };
  }
}

/** Loads the LP libraries once; an engine may be used for any number of problems, one after the other. */
export async function createEngine(options: EngineOptions = {}): Promise<Engine> {
  const highs: Highs = await loadHighsRuntime();
  const small: LpFactory = { ...jsLp, mostRows: SMALL_MASTER };
  return new CuttingEngine({ factories: options.lps ?? [small, highsLp(highs)], highs });
}
