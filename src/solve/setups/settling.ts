/**
 * Whether given numbers of pieces have a plan whose set-ups come to no more than a mark: a tree over every column that
 * such a plan may use. With the numbers given, wood is paid for, and the mark is hardly a set-up above the linear
 * programme, so that few columns are left by reduced cost; over all numbers of pieces they are too many to list.
 */
import { type Column, type Cutting, keyOf } from '../columns/columns.js';
import type { Knapsack } from '../columns/knapsack.js';
import { Master } from '../columns/master.js';
import { columnsWithin } from '../columns/useful.js';
import type { SearchGoal } from '../instance/goal.js';
import type { Instance } from '../instance/instance.js';
import type { Watch } from '../instance/watch.js';
import type { HighsRuntime } from '../lp/highs-runtime.js';
import type { LpFactory } from '../lp/lp.js';
import { cuttingsOf, type Programme, type ProgrammeColumn, programmeOf } from '../search/programme.js';
import { Tree } from '../search/tree.js';
import { strengthen } from './gomory.js';

/** Columns a round of pricing adds at most. */
const MOST_COLUMNS = 30;
/** Columns listed, and left to a tree by cuts, at most: beyond, hardly any comes to its end. */
const MOST_LISTED = 25_000;
const MOST_BRANCHED = 8_000;
/** What leaving an item out costs, in set-ups. */
const UNMADE = 400;

export interface SettlingTask {
  readonly instance: Instance;
  readonly goal: SearchGoal;
  readonly knapsack: Knapsack;
  readonly factory: LpFactory;
  readonly highs: HighsRuntime;
  /** How far each group's piece can be filled. */
  readonly holds: Float64Array;
}

export interface Settled {
  /** `infeasible` is proven; `open`: out of nodes or time, or too many columns. */
  readonly status: 'found' | 'infeasible' | 'open';
  readonly plan: readonly Cutting[] | null;
}

/** Just these rails from just these pieces; of pieces that cost nothing no more. */
function exactly(programme: Programme, pieces: Float64Array, cost: readonly number[]): Programme {
  const { items } = programme;
  const lower = programme.lower.slice();
  const upper = programme.upper.slice();
  for (let i = 0; i < items; i++) upper[i] = lower[i]!;
  pieces.forEach((count, s) => {
    if (cost[s]! > 0) lower[items + s] = count;
  });
  return { ...programme, lower, upper };
}

export class Settling {
  readonly mark: number;
  /** No tree, or one that is of no more use. */
  useless = true;
  readonly #instance: Instance;
  #tree: Tree | null = null;
  #choices: readonly ProgrammeColumn[] = [];
  /** Proven before any branch. */
  #hopeless = false;

  /** `columns`: some that may serve, to begin with. */
  constructor(
    { instance, goal, knapsack, factory, highs, holds }: SettlingTask,
    pieces: Float64Array,
    mark: number,
    columns: readonly Column[],
    watch: Watch,
  ) {
    this.mark = mark;
    const { groups, demand, n } = instance;
    this.#instance = { ...instance, groups: groups.map((group, s) => ({ ...group, supply: pieces[s]! })) };
    const setups: SearchGoal = { cost: groups.map(() => 0), rows: [], unmade: null, setup: goal.setup! };
    const dear = UNMADE * goal.setup!.reduce((top, charge) => Math.max(top, charge), 1);
    const unmade = Array.from({ length: n }, () => dear);
    const master = new Master(this.#instance, { ...setups, unmade }, knapsack, factory, watch);
    for (const column of columns) if (pieces[column.group]! > 0) master.add(column);
    while (!watch.over()) {
      if (master.solve(watch.seconds()) === null) break;
      if (master.pricing.price(master.duals(), demand, MOST_COLUMNS) === 0) break;
    }
    const choices = watch.over() ? null : columnsWithin(master, mark, holds, watch.seconds(), MOST_LISTED);
    const taken = new Set(
      master.columns.filter((_, at) => master.answer !== null && master.at(at) > 0).map(keyOf),
    );
    master.dispose();
    if (choices === null) return;
    const programme = exactly(programmeOf(this.#instance, setups, choices), pieces, goal.cost);
    const known = [...choices.keys()].filter((at) => taken.has(keyOf(choices[at]!.column)));
    const runtime = highs();
    const strong = strengthen(runtime, programme, mark, known, watch);
    this.#hopeless = strong.hopeless;
    this.useless = !strong.hopeless && strong.left.length > MOST_BRANCHED;
    if (strong.hopeless || this.useless) return;
    this.#choices = Array.from(strong.left, (at) => choices[at]!);
    this.#tree = new Tree(runtime, strong.programme, mark, true, strong.known);
  }

  /** Continues where the last run stopped. */
  run(watch: Watch, nodes: number): Settled {
    if (this.#hopeless) return { status: 'infeasible', plan: null };
    if (this.#tree === null) return { status: 'open', plan: null };
    const { status, times } = this.#tree.run(watch, nodes);
    this.useless = status === 'stuck';
    if (status === 'found') return { status, plan: cuttingsOf(this.#instance, this.#choices, times!) };
    return { status: status === 'infeasible' ? status : 'open', plan: null };
  }

  dispose(): void {
    this.#tree?.dispose();
    this.#tree = null;
  }
}
