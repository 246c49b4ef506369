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
import { type Found, Search, type Tools } from './search.js';

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
  problem.stocks.forEach((stock, s) => left.set(s, stock.supply ?? Infinity));
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

function statusOf(value: number, bound: number): Proof {
  const status = bound >= value ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return { status, value, bound: Math.min(bound, value) };
}

class CuttingEngine implements Engine {
  constructor(private readonly tools: Tools) {}

  solve(problem: Problem, options: SolveOptions): Outcome {
    if (problem.items.length === 0) {
      const proofs = Array.from({ length: problem.goals }, () => statusOf(0, 0));
      return { kind: 'solved', patterns: [], proofs };
    }
    const instance = prepare(problem);
    if (!this.fitsAll(instance)) return { kind: 'none', proven: true };
    const knapsack = new Knapsack(instance);
    const costs = Array.from({ length: problem.goals }, (_, g) =>
      instance.lanes.map((lane) => problem.stocks[lane.members[0]!]!.costs[g] ?? 0),
    );
    const proofs: Proof[] = [];
    let plan: Cutting[] | null = options.start ? inward(instance, options.start) : null;
    let columns: readonly Column[] = (plan ?? []).map((cutting) => cutting.column);
    const rows: CountRow[] = [];
    const hand = (found: Found): void => {
      if (!found.plan || !options.onImproved) return;
      options.onImproved(
        this.outcome(problem, instance, found.plan, [...proofs, statusOf(found.value, found.bound)], costs),
      );
    };
    for (let g = 0; g < problem.goals; g++) {
      const goal: Goal = { cost: costs[g]!, rows: [...rows], unmade: null };
      const run = (one: Goal, start: readonly Cutting[] | null): Found => {
        const search = new Search(instance, one, knapsack, this.tools, options, hand);
        const found = search.run(start, columns);
        columns = search.columns;
        search.dispose();
        return found;
      };
      const bought = g === 0 && problem.stocks.some((stock) => stock.purchase);
      const found = bought ? purchased(problem, instance, goal, plan, run, options) : run(goal, plan);
      if (!found.plan)
        return g === 0
          ? this.none(instance, knapsack, options)
          : this.outcome(problem, instance, plan!, proofs, costs);
      plan = found.plan;
      proofs.push(statusOf(found.value, found.bound));
      rows.push({ weights: costs[g]!, limit: this.spent(instance, plan, costs[g]!) });
      if (bought) rows.push(...this.heldCounts(instance, plan));
    }
    return this.outcome(problem, instance, plan!, proofs, costs);
  }

  private spent(instance: Instance, plan: readonly Cutting[], cost: readonly number[]): number {
    return usage(instance, plan).reduce((sum, pieces, s) => sum + (pieces > 0 ? pieces * cost[s]! : 0), 0);
  }

  /** Bought by packs or breaks, the later goals keep to the numbers bought: anything else may cost more. */
  private heldCounts(instance: Instance, plan: readonly Cutting[]): CountRow[] {
    const used = usage(instance, plan);
    return instance.lanes.flatMap((lane, s) =>
      lane.supply === Infinity || used[s]! < lane.supply
        ? [{ weights: instance.lanes.map((_, t) => (t === s ? 1 : 0)), limit: used[s]! }]
        : [],
    );
  }

  private outcome(
    problem: Problem,
    instance: Instance,
    plan: readonly Cutting[],
    proofs: readonly Proof[],
    costs: readonly (readonly number[])[],
  ): Solved {
    const all = costs.map((cost, g) => proofs[g] ?? statusOf(this.spent(instance, plan, cost), 0));
    return { kind: 'solved', patterns: outward(problem, instance, plan), proofs: all };
  }

  private fitsAll(instance: Instance): boolean {
    const start = instance.kinds?.start;
    for (let i = 0; i < instance.n; i++) {
      if (instance.weight[i]! + (start?.[instance.kind[i]!] ?? 0) > instance.largest) return false;
    }
    return instance.lanes.length > 0;
  }

  /** Nothing was found: is that proved? The least weight left unmade has a bound above nothing. */
  private none(instance: Instance, knapsack: Knapsack, options: SolveOptions): Outcome {
    const goal: Goal = {
      cost: instance.lanes.map(() => 0),
      rows: [],
      unmade: instance.demand.length > 0 ? [...instance.weight] : null,
    };
    const search = new Search(instance, goal, knapsack, this.tools, options, () => undefined);
    const found = search.run(null, []);
    search.dispose();
    return { kind: 'none', proven: found.bound > 0 };
  }
}

/** Loads the LP libraries once; an engine may be used for any number of problems, one after the other. */
export async function createEngine(options: EngineOptions = {}): Promise<Engine> {
  const highs: Highs = await loadHighsRuntime();
  const small: LpFactory = { ...jsLp, mostRows: SMALL_MASTER };
  return new CuttingEngine({ factories: options.lps ?? [small, highsLp(highs)], highs });
}
