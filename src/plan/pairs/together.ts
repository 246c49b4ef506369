/**
 * Both rails of a pair from one stick, when that costs nothing. Exchanging rails between sticks of a finished plan
 * rarely gets there, as a plan that wastes little leaves no room. So the rails are placed anew with pairs as items that
 * cannot be parted, all of them or all but a share spread evenly over the settings, and from what that keeps whole on
 * with more. By packing into the very pieces of the plan, which takes milliseconds; by the
 * engine in a small share of the time, a larger one where bins are too many or angles differ. Such a plan is taken where it is no dearer under any goal and easier to cut, by the order of
 * `STEPS`, than the one at hand.
 */

import { unitTypesByItem } from '../../layout/names.js';
import { easierToCut, type PlanFigures, planFigures } from '../../layout/plan-figures.js';
import { StickHandling } from '../../layout/stick-handling.js';
import { STEPS, type Step, tidy } from '../../layout/tidy.js';
import type { Engine } from '../../solve/engine.js';
import type { Piece } from '../../solve/packer.js';
import type { Pattern, Problem, Proof, Solved } from '../../solve/problem.js';
import { problemOf, type SubProblem } from '../../stock/problem.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Answer } from '../build.js';
import type { PlanOptions } from '../part.js';
import { packPairs } from './pack-pairs.js';
import { inPairs, shareOf, tiePairs, untied } from './pairs.js';
import { repack } from './repack.js';

/** Bins of a plan whose rails are placed anew: beyond, like pieces are so many that each counts for little. */
const BINS_MOST = 4_000;
const BINS_AN_ITEM = 10;
/** Likewise where all are packed at once, which keeps more of them alike. */
const PACKED_AN_ITEM = 50;
/** Attempts at all bins at once: bins times items, some 10 million a second; and at a few of them. */
const WHOLE_WORK = 100_000;
const WHOLE_MOST = 8;
/** Rounds of emptying and filling a few, some 0.2 ms each, and for each bin. */
const ROUNDS = 1_000;
const ROUNDS_A_BIN = 2;
/** How often the engine tries to keep more pairs whole, fewer more where that is too much. */
const MENDING_TRIES = 6;
/** What all tries of the engine together may take of the work that the search for the plan itself took. */
const ENGINE_SHARE = 0.4;
/** And where rails cannot be placed anew without it, beside what it takes to lay a rail out. */
const ENGINE_WORK = 200_000;
const RAIL_WORK = 2.5;
/** A try of less work, for each item, finds nothing. */
const LEAST_WORK = 1_000;

const OFFCUTS: readonly Step[] = ['offcuts'];

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

interface Try {
  readonly problem: Problem;
  readonly start: readonly Pattern[];
  readonly work: number;
  readonly known: readonly Proof[];
}

/** A plan of the problem with tied pairs that is worth no more than `known` under any goal, and the work it took. */
function solve(
  engine: Engine,
  options: PlanOptions,
  { problem, start, work, known }: Try,
): { readonly solved: Solved | null; readonly work: number } {
  const serves = ({ proofs }: Solved): boolean => compare(proofs, known) <= 0;
  let found: Solved | null = null;
  const { now, deadline, seed, stopped } = options;
  const outcome = engine.solve(problem, {
    now,
    deadline,
    seed,
    work,
    enough: (solved) => {
      if (serves(solved)) found = solved;
      const hopeless = solved.proofs[0]!.bound > known[0]!.value;
      return found !== null || hopeless ? 0 : Infinity;
    },
    ...(stopped && { stopped }),
    start,
  });
  if (outcome.kind === 'solved' && serves(outcome)) found = outcome;
  return { solved: found, work: outcome.work };
}

/** Whether this many bins, so many an item, are worth looking at one by one. */
function few(bins: number, problem: Problem, anItem: number): boolean {
  return bins <= Math.min(BINS_MOST, anItem * problem.items.length);
}

export interface TogetherOptions extends PlanOptions {
  /** When tidying the plan as it was found ends, by default at the deadline: it is worth more than what comes after. */
  readonly last?: number;
  /** The sticks are divided into runs next, which shares the rails out anew. */
  readonly divided?: boolean;
}

class Together {
  readonly #task: MouldingTask;
  readonly #sub: SubProblem;
  readonly #engine: Engine;
  readonly #options: TogetherOptions;
  /** Pairs of each item of the problem, where they may be parted. */
  readonly #pairs: readonly number[];
  /** What the engine may still take; the second only where nothing could be placed anew without it. */
  #work: number;
  readonly #unpacked: number;
  best: Answer;
  #tidied: readonly Pattern[];
  #handy: PlanFigures;

  constructor(task: MouldingTask, answer: Answer, work: number, engine: Engine, options: TogetherOptions) {
    this.#task = task;
    this.#sub = problemOf(task, answer.copies);
    this.#engine = engine;
    this.#options = options;
    // What is placed anew anyway is only tidied for its offcuts, which stay.
    const steps = this.#sharedOut(answer.patterns) ? OFFCUTS : STEPS;
    this.#tidied = tidy(task, answer.patterns, steps, () => this.#isPast(options.last ?? options.deadline));
    this.best = { ...answer, patterns: this.#tidied, tidied: true };
    this.#handy = planFigures(task, this.#tidied);
    const types = unitTypesByItem(task);
    const { problem, outward } = this.#sub;
    const rails = problem.items.reduce((sum, { demand }) => sum + demand, 0);
    this.#work = ENGINE_SHARE * work;
    this.#unpacked = ENGINE_WORK + RAIL_WORK * rails;
    const all = problem.items.map((_, item) => ({ item, count: 1 }));
    const own = outward({ stock: 0, count: 1, segments: [all] }).segments[0]!;
    this.#pairs = own.map(({ item }, i) =>
      types[item]!.some(({ whole }) => !whole) ? Math.floor(problem.items[i]!.demand / 2) : 0,
    );
  }

  get #over(): boolean {
    return this.#handy.apart === 0 || this.#late();
  }

  #late(): boolean {
    return this.#isPast(this.#options.deadline);
  }

  #isPast(end: number): boolean {
    return this.#options.stopped?.() === true || this.#options.now() >= end;
  }

  /** Pairs of each item that lie whole on a stick in the plan at hand. */
  #whole(): readonly number[] {
    const whole = this.#pairs.map(() => 0);
    for (const { count, segments } of this.#tidied.map((pattern) => this.#sub.inward(pattern))) {
      for (const entry of segments.flat()) whole[entry.item]! += count * Math.floor(entry.count / 2);
    }
    return whole.map((count, i) => Math.min(count, this.#pairs[i]!));
  }

  /** Whether such patterns of the problem are better than those at hand, which they then are. */
  #take(found: readonly Pattern[], values: readonly Proof[]): boolean {
    const task = this.#task;
    const patterns = tidy(
      task,
      found.map((pattern) => this.#sub.outward(pattern)),
      STEPS,
      () => this.#late(),
    );
    const handy = planFigures(task, patterns);
    if (compare(values, this.best.proofs) === 0 && !easierToCut(handy, this.#handy)) return false;
    const proofs = proofsFor(values, this.best.proofs);
    this.best = { copies: this.best.copies, patterns, proofs, tidied: true };
    this.#tidied = patterns;
    this.#handy = handy;
    return true;
  }

  /** Packs all rails anew, as many pairs whole as possible, into the pieces of the plan at hand. */
  #pack(): void {
    const { problem, inward } = this.#sub;
    const pieces = this.#tidied.map(inward);
    const count = pieces.reduce((sum, pattern) => sum + pattern.count, 0);
    if (!few(count, problem, PACKED_AN_ITEM)) return;
    const found = packPairs(problem, pieces, this.#pairs, this.#options.seed, () => this.#late());
    if (found !== null) this.#take(found, this.best.proofs);
  }

  /**
   * Places the rails anew in the pieces of the plan at hand, but for those that leave an offcut to keep, a few at a
   * time. False where that is no use.
   */
  #repack(): boolean {
    const task = this.#task;
    const { problem, inward } = this.#sub;
    const handling = new StickHandling(task);
    const full = this.#tidied.filter(({ stock, segments }) => handling.of(stock, segments).kept === 0);
    const kept = this.#tidied.filter((pattern) => !full.includes(pattern));
    const bins = full.reduce((sum, { count, segments }) => sum + count * segments.length, 0);
    if (problem.kinds !== null || !few(bins, problem, BINS_AN_ITEM)) return false;
    const pieces = full
      .map(inward)
      .flatMap(({ stock, count, segments }) =>
        Array.from({ length: count }, (): Piece => ({ stock, lanes: segments })),
      );
    const found = repack(pieces, {
      problem,
      pairable: this.#pairs.map((count) => count > 0),
      seed: this.#options.seed,
      whole: Math.max(1, Math.min(WHOLE_MOST, Math.floor(WHOLE_WORK / (bins * problem.items.length)))),
      rounds: Math.max(ROUNDS, ROUNDS_A_BIN * bins),
      stopped: () => this.#late(),
    });
    const anew = found.map(({ stock, lanes }): Pattern => ({ stock, count: 1, segments: lanes }));
    this.#take([...anew, ...kept.map(inward)], this.best.proofs);
    return true;
  }

  /** Has the engine search for a plan with these pairs whole. */
  #solve(kept: readonly number[]): boolean {
    const { problem, inward } = this.#sub;
    const tying = tiePairs(problem, kept);
    if (this.#work < LEAST_WORK * tying.problem.items.length) {
      this.#work = 0;
      return false;
    }
    const { solved, work } = solve(this.#engine, this.#options, {
      problem: tying.problem,
      start: this.#tidied.map((pattern) => inPairs(inward(pattern), tying.tied)),
      work: this.#work,
      known: this.best.proofs,
    });
    this.#work -= work;
    if (solved === null) return false;
    return this.#take(
      solved.patterns.map((pattern) => untied(pattern, tying.tied)),
      solved.proofs,
    );
  }

  /** From what is whole already: pairs that are split besides, fewer at a time where that is too much. */
  #mend(): void {
    let share = 1;
    for (let tries = MENDING_TRIES; tries > 0 && !this.#over; tries--) {
      const whole = this.#whole();
      const split = this.#pairs.map((count, i) => count - whole[i]!);
      const more = shareOf(split, share);
      if (!more.some((count) => count > 0)) return;
      if (!this.#solve(whole.map((count, i) => count + more[i]!))) share /= 2;
    }
  }

  /** Whether the rails are placed anew anyway, run by run. */
  #sharedOut(patterns: readonly Pattern[]): boolean {
    const { problem } = this.#sub;
    const bins = patterns.reduce((sum, { count, segments }) => sum + count * segments.length, 0);
    return this.#options.divided === true && problem.kinds === null && few(bins, problem, BINS_AN_ITEM);
  }

  run(): void {
    if (this.#over || this.#sharedOut(this.#tidied)) return;
    this.#pack();
    if (this.#over) return;
    if (!this.#repack()) this.#work += this.#unpacked;
    this.#mend();
  }
}

/** `work`: what the search for `answer` took. Gives `answer`, tidied, where nothing is easier to cut. */
export function pairsTogether(
  task: MouldingTask,
  answer: Answer,
  work: number,
  engine: Engine,
  options: TogetherOptions,
): Answer {
  const together = new Together(task, answer, work, engine, options);
  together.run();
  return together.best;
}
