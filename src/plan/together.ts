/**
 * Both rails of a pair from one stick, when that costs nothing. Exchanging rails between sticks of a finished plan
 * rarely gets there, as a plan that wastes little leaves no room. So the problem is solved again with pairs as items
 * that cannot be parted: all of them, or all but a share spread evenly over the settings. Such a plan is taken where it
 * is no dearer under any goal and handier, by the order of `STEPS`, than the one at hand.
 */
import { type Handy, handier, handinessOf } from '../layout/handiness.js';
import { unitTypesByItem } from '../layout/names.js';
import { tidy } from '../layout/tidy.js';
import type { Engine } from '../solve/engine.js';
import type { Item, Pattern, PatternEntry, Problem, Proof, Solved } from '../solve/problem.js';
import { problemOf, type SubProblem } from '../stock/problem.js';
import type { MouldingTask } from '../stock/task.js';
import type { Answer } from './build.js';
import type { PlanOptions } from './part.js';

/** Shares of the pairs that may be parted, tried in turn. */
const LOOSE = [0, 1 / 16, 1 / 8, 1 / 4];
/** What one try may take, in readings of the clock by the engine: counted, so that the same seed gives the same plan. */
const LEAST_READINGS = 200;
/** Of what the search for the plan itself took. */
const TRY_SHARE = 1 / 8;
/** How often pairs that are split are tried to be mended, where no even share can be kept. */
const MENDING_TRIES = 6;
/** Beyond, the engine has no time left to make a plan handier. */
const ITEMS_MOST = 400;

/** An item of the problem that stands for `rails` of one item of the original. */
interface Bound {
  readonly item: number;
  readonly rails: number;
}

/** Of `counts`, one an item, a share in whole numbers, spread so that the sums over the first items keep to it too. */
function shareOf(counts: readonly number[], share: number): readonly number[] {
  let sum = 0;
  return counts.map((count) => {
    const before = Math.round(sum);
    sum += count * share;
    return Math.min(count, Math.round(sum) - before);
  });
}

/** `kept` pairs of each item as items of their own, the rest as single rails. */
function bindPairs(
  problem: Problem,
  kept: readonly number[],
): { readonly problem: Problem; readonly bound: readonly Bound[] } {
  const items: Item[] = [];
  const bound: Bound[] = [];
  problem.items.forEach((item, i) => {
    const pairs = kept[i]!;
    if (pairs > 0) {
      items.push({ ...item, weight: 2 * item.weight, demand: pairs });
      bound.push({ item: i, rails: 2 });
    }
    if (item.demand > 2 * pairs) {
      items.push({ ...item, demand: item.demand - 2 * pairs });
      bound.push({ item: i, rails: 1 });
    }
  });
  return { problem: { ...problem, items }, bound };
}

function unbound(pattern: Pattern, bound: readonly Bound[]): Pattern {
  const segments = pattern.segments.map((entries) => {
    const counts = new Map<number, number>();
    for (const { item, count } of entries) {
      const { item: own, rails } = bound[item]!;
      counts.set(own, (counts.get(own) ?? 0) + count * rails);
    }
    return [...counts].map(([item, count]): PatternEntry => ({ item, count }));
  });
  return { ...pattern, segments };
}

/** Below 0 where `a` is worth less under the first goal that differs. */
function compare(a: readonly Proof[], b: readonly Proof[]): number {
  for (let goal = 0; goal < a.length; goal++) {
    const by = a[goal]!.value - b[goal]!.value;
    if (by !== 0) return by;
  }
  return 0;
}

/** The proofs of the problem itself, for a plan of these values. */
function proofsFor(values: readonly Proof[], known: readonly Proof[]): readonly Proof[] {
  let same = true;
  return values.map(({ value }, goal) => {
    // The bound of a later goal holds for the values of those before it.
    const bound = same ? Math.min(known[goal]!.bound, value) : 0;
    same &&= value === known[goal]!.value;
    return { status: bound === value ? 'optimal' : bound > 0 ? 'within' : 'unproven', value, bound };
  });
}

/** A pattern of the problem as one of pairs, what is odd as single rails; a start for the search, not a plan. */
function inPairs(pattern: Pattern, bound: readonly Bound[]): Pattern {
  const place = new Map(bound.map(({ item, rails }, i) => [`${item}/${rails}`, i]));
  const segments = pattern.segments.map((entries) =>
    entries.flatMap(({ item, count }): PatternEntry[] => {
      const [pair, single] = [place.get(`${item}/2`), place.get(`${item}/1`)];
      const pairs =
        pair === undefined ? 0 : single === undefined ? Math.ceil(count / 2) : Math.floor(count / 2);
      return [
        ...(pair === undefined || pairs === 0 ? [] : [{ item: pair, count: pairs }]),
        ...(single === undefined || count <= 2 * pairs ? [] : [{ item: single, count: count - 2 * pairs }]),
      ];
    }),
  );
  return { ...pattern, segments };
}

interface Try {
  readonly problem: Problem;
  readonly start: readonly Pattern[];
  readonly readings: number;
  readonly known: readonly Proof[];
}

/** A plan of the bound problem that is worth no more than `known` under any goal; null where none was found. */
function solve(
  engine: Engine,
  options: PlanOptions,
  { problem, start, readings, known }: Try,
): Solved | null {
  let [read, hopeless] = [0, false];
  let found: Solved | null = null;
  const begin = options.now();
  const outcome = engine.solve(problem, {
    now: () => {
      read += 1;
      return read > readings ? options.deadline : begin;
    },
    deadline: options.deadline,
    seed: options.seed,
    onImproved: (solved) => {
      if (compare(solved.proofs, known) <= 0) found = solved;
      hopeless ||= solved.proofs[0]!.bound > known[0]!.value;
    },
    stopped: () =>
      found !== null || hopeless || options.stopped?.() === true || options.now() >= options.deadline,
    start,
  });
  if (outcome.kind === 'solved' && compare(outcome.proofs, known) <= 0) return outcome;
  return found;
}

class Together {
  readonly #task: MouldingTask;
  readonly #sub: SubProblem;
  readonly #engine: Engine;
  readonly #options: PlanOptions;
  readonly #readings: number;
  /** Pairs of each item of the problem, where they may be parted. */
  readonly #pairs: readonly number[];
  best: Answer;
  #tidied: readonly Pattern[];
  #handy: Handy;

  constructor(task: MouldingTask, answer: Answer, readings: number, engine: Engine, options: PlanOptions) {
    this.#task = task;
    this.#sub = problemOf(task, answer.copies);
    this.#engine = engine;
    this.#options = options;
    this.#readings = Math.max(LEAST_READINGS, Math.round(readings * TRY_SHARE));
    this.#tidied = tidy(task, answer.patterns);
    this.best = { ...answer, patterns: this.#tidied, tidied: true };
    this.#handy = handinessOf(task, this.#tidied);
    const types = unitTypesByItem(task);
    const { problem, outward } = this.#sub;
    const all = problem.items.map((_, item) => ({ item, count: 1 }));
    const own = outward({ stock: 0, count: 1, segments: [all] }).segments[0]!;
    this.#pairs = own.map(({ item }, i) =>
      types[item]!.some(({ whole }) => !whole) ? Math.floor(problem.items[i]!.demand / 2) : 0,
    );
  }

  get #over(): boolean {
    return this.#handy.apart === 0 || this.#options.now() >= this.#options.deadline;
  }

  /** Pairs of each item that lie whole on a segment in the plan at hand. */
  #whole(): readonly number[] {
    const whole = this.#pairs.map(() => 0);
    for (const { count, segments } of this.#tidied.map((pattern) => this.#sub.inward(pattern))) {
      for (const entry of segments.flat()) whole[entry.item]! += count * Math.floor(entry.count / 2);
    }
    return whole.map((count, i) => Math.min(count, this.#pairs[i]!));
  }

  /** Whether a plan that keeps these pairs is better than the one at hand, which it then is. */
  #try(kept: readonly number[]): boolean {
    const task = this.#task;
    const { problem, inward, outward } = this.#sub;
    const bindings = bindPairs(problem, kept);
    const solved = solve(this.#engine, this.#options, {
      problem: bindings.problem,
      start: this.#tidied.map((pattern) => inPairs(inward(pattern), bindings.bound)),
      readings: this.#readings,
      known: this.best.proofs,
    });
    if (solved === null) return false;
    const patterns = tidy(
      task,
      solved.patterns.map((pattern) => outward(unbound(pattern, bindings.bound))),
    );
    const handy = handinessOf(task, patterns);
    if (compare(solved.proofs, this.best.proofs) === 0 && !handier(handy, this.#handy)) return false;
    const proofs = proofsFor(solved.proofs, this.best.proofs);
    this.best = { copies: this.best.copies, patterns, proofs, tidied: true };
    this.#tidied = patterns;
    this.#handy = handy;
    return true;
  }

  run(): void {
    for (const loose of LOOSE) {
      if (this.#over) return;
      const parted = shareOf(this.#pairs, loose);
      if (this.#try(this.#pairs.map((count, i) => count - parted[i]!))) return;
    }
    // From what is whole already: some of the pairs that are split, fewer at a time where that is too much.
    let mended = 1;
    for (let tries = MENDING_TRIES; tries > 0 && !this.#over; tries--) {
      const whole = this.#whole();
      const split = this.#pairs.map((count, i) => count - whole[i]!);
      const more = shareOf(split, mended / 2);
      if (!more.some((count) => count > 0)) return;
      if (!this.#try(whole.map((count, i) => count + more[i]!))) mended /= 2;
    }
  }
}

/** `readings`: what the search for `answer` took. Gives `answer`, tidied, where nothing is handier. */
export function pairsTogether(
  task: MouldingTask,
  answer: Answer,
  readings: number,
  engine: Engine,
  options: PlanOptions,
): Answer {
  if (task.items.length > ITEMS_MOST) return answer;
  const together = new Together(task, answer, readings, engine, options);
  together.run();
  return together.best;
}
