/**
 * When the stock cannot give everything: whole frames by priority, then in the order given. The longest run of frames
 * from the first on that can be made, then of each later line as many copies as still fit.
 */
import type { Engine } from '../../solve/engine.js';
import type { Pattern } from '../../solve/problem.js';
import { allCopies, demandsOf, problemOf, unpriced } from '../../stock/problem.js';
import type { Copies, MouldingTask } from '../../stock/task.js';
import type { Batch } from '../../terms.js';
import type { PlanOptions } from '../part.js';

/** Share of the time left that one question "can these be made?" may take. */
const QUESTION_SHARE = 1 / 8;
/** What a question gets even when time is up: without answers there would be no plan at all. */
const QUESTION_MS = 50;

export function questionEnd(options: PlanOptions): number {
  const now = options.now();
  return now + Math.max(QUESTION_MS, (options.deadline - now) * QUESTION_SHARE);
}

export interface Possible {
  readonly copies: Copies;
  /** Patterns that make them, items numbered as in the task. */
  readonly patterns: readonly Pattern[];
  /** Every frame left out was proven not to fit beside those before it. */
  readonly proven: boolean;
}

/** Most that all sticks together hold, in weight. */
function capacityOf(task: MouldingTask): number {
  let sum = 0;
  for (const pile of task.piles) {
    if (pile.supply === null) return Number.POSITIVE_INFINITY;
    sum += pile.supply * pile.segments.reduce((total, segment) => total + segment, 0);
  }
  return sum;
}

class FrameFitting {
  patterns: readonly Pattern[] = [];
  proven = true;
  readonly #capacity: number;

  constructor(
    readonly task: MouldingTask,
    readonly engine: Engine,
    readonly options: PlanOptions,
  ) {
    this.#capacity = capacityOf(task);
  }

  /** Whether these frames can be made; keeps the patterns when they can. */
  fits(copies: Copies): boolean {
    const { task, engine, options } = this;
    const demand = demandsOf(task, copies);
    if (demand.every((count) => count === 0)) return true;
    const weight = demand.reduce((sum, count, i) => sum + count * task.items[i]!.weight, 0);
    if (weight > this.#capacity) return false;
    const { problem, inward, outward } = problemOf(unpriced(task), copies);
    const outcome = engine.solve(problem, {
      now: options.now,
      deadline: questionEnd(options),
      seed: options.seed,
      enough: () => 0,
      ...(options.stopped && { stopped: options.stopped }),
      start: this.patterns.map(inward),
    });
    if (outcome.kind === 'solved') {
      this.patterns = outcome.patterns.map(outward);
      return true;
    }
    this.proven &&= outcome.proven;
    return false;
  }
}

/** Largest n up to `high` for which `fits` holds; it holds for 0, and for all below one it holds for. */
function largest(high: number, fits: (n: number) => boolean): number {
  if (high === 0 || fits(high)) return high;
  let [fit, over] = [0, high];
  while (over - fit > 1) {
    const middle = Math.floor((fit + over) / 2);
    if (fits(middle)) fit = middle;
    else over = middle;
  }
  return fit;
}

/** Places in `task.lines` in the order in which frames are completed. */
function byPriority(batch: Batch, task: MouldingTask): readonly number[] {
  const rank = (at: number): number => batch.frames[task.lines[at]!]!.priority ?? Number.POSITIVE_INFINITY;
  return [...task.lines.keys()].sort((a, b) => (rank(a) === rank(b) ? a - b : rank(a) - rank(b)));
}

/** The first `frames` copies of the lines, taken in this order. */
function firstCopies(all: Copies, order: readonly number[], frames: number): number[] {
  let rest = frames;
  const copies = all.map(() => 0);
  for (const at of order) {
    copies[at] = Math.min(all[at]!, rest);
    rest -= copies[at]!;
  }
  return copies;
}

/**
 * Lines that ask for the very same rails give way to each other in the order they are completed. A search that ended
 * early may have left an earlier one out; the plan stays as it is, for it cuts the same.
 */
function givenWay(task: MouldingTask, all: Copies, order: readonly number[], copies: Copies): Copies {
  const rails = new Map<number, string[]>();
  for (const { line, item, whole, sides } of task.units) {
    rails.set(line, [...(rails.get(line) ?? []), `${item}/${whole}/${sides.length}`]);
  }
  const alike = new Map<string, number[]>();
  for (const at of order) {
    const key = (rails.get(task.lines[at]!) ?? []).toSorted().join(' ');
    const group = alike.get(key);
    if (group === undefined) alike.set(key, [at]);
    else group.push(at);
  }
  const settled = [...copies];
  for (const group of alike.values()) {
    let rest = group.reduce((sum, at) => sum + copies[at]!, 0);
    for (const at of group) {
      settled[at] = Math.min(all[at]!, rest);
      rest -= settled[at]!;
    }
  }
  return settled;
}

/** The frames to make. */
export function possibleFrames(
  batch: Batch,
  task: MouldingTask,
  engine: Engine,
  options: PlanOptions,
): Possible {
  const all = allCopies(batch, task);
  const order = byPriority(batch, task);
  const search = new FrameFitting(task, engine, options);
  const ordered = all.reduce((sum, count) => sum + count, 0);
  const prefix = largest(ordered - 1, (frames) => search.fits(firstCopies(all, order, frames)));
  const copies = firstCopies(all, order, prefix);
  const cutOff = order.findIndex((at) => copies[at]! < all[at]!);
  let proven = true;
  for (const at of order.slice(cutOff + 1)) {
    if (options.now() >= options.deadline) {
      proven = false;
      break;
    }
    copies[at] = largest(all[at]!, (count) => search.fits(copies.with(at, count)));
  }
  return {
    copies: givenWay(task, all, order, copies),
    patterns: search.patterns,
    proven: proven && search.proven,
  };
}
