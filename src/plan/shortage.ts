/**
 * When the stock cannot give everything: whole frames in the order given. The longest run of frames from the first on
 * that can be made, then of each later line as many copies as still fit.
 */
import type { Engine } from '../solve/engine.js';
import type { Pattern } from '../solve/problem.js';
import { allCopies, demandsOf, problemOf } from '../stock/problem.js';
import { purchase } from '../stock/purchase.js';
import { kindsOf, runLength } from '../stock/spacing.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { mm, money } from './measure.js';
import type { PlanOptions } from './part.js';
import type { Shortfall } from './types.js';

/** Share of the time left that one question "can these be made?" may take. */
const QUESTION_SHARE = 1 / 8;
/** What a question gets even when time is up: without answers there would be no plan at all. */
const QUESTION_MS = 50;

function questionEnd(options: PlanOptions): number {
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

class Search {
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
    const { problem, inward, outward } = problemOf(task, copies);
    let found = false;
    const outcome = engine.solve(problem, {
      now: options.now,
      deadline: questionEnd(options),
      seed: options.seed,
      onImproved: () => {
        found = true;
      },
      stopped: () => found || options.stopped?.() === true,
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

/** The first `frames` copies of the lines, in order. */
function firstCopies(all: Copies, frames: number): number[] {
  let rest = frames;
  return all.map((count) => {
    const taken = Math.min(count, rest);
    rest -= taken;
    return taken;
  });
}

/** The frames to make. */
export function possibleFrames(
  batch: Batch,
  task: MouldingTask,
  engine: Engine,
  options: PlanOptions,
): Possible {
  const all = allCopies(batch, task);
  const search = new Search(task, engine, options);
  const ordered = all.reduce((sum, count) => sum + count, 0);
  const prefix = largest(ordered - 1, (frames) => search.fits(firstCopies(all, frames)));
  const copies = firstCopies(all, prefix);
  const cutOff = copies.findIndex((count, i) => count < all[i]!);
  for (let i = cutOff + 1; i < all.length; i++) {
    if (options.now() >= options.deadline) return { copies, patterns: search.patterns, proven: false };
    copies[i] = largest(all[i]!, (count) => search.fits(copies.with(i, count)));
  }
  return { copies, patterns: search.patterns, proven: search.proven };
}

/** Stock for the missing frames alone, as if the offers had no end; null where no offer can hold some of them. */
function newSticks(
  task: MouldingTask,
  missing: Copies,
  engine: Engine,
  options: PlanOptions,
): Shortfall | null {
  const piles = task.piles.filter((pile) => pile.offer !== null).map((pile) => ({ ...pile, supply: null }));
  if (piles.length === 0) return null;
  const { problem } = problemOf({ ...task, piles }, missing);
  const { seed, stopped } = options;
  const deadline = questionEnd(options);
  const outcome = engine.solve(problem, { now: options.now, deadline, seed, ...(stopped && { stopped }) });
  if (outcome.kind === 'none') return null;
  let [needs, cost] = [0, 0];
  piles.forEach(({ offer }, stock) => {
    const used = outcome.patterns.reduce((sum, one) => sum + (one.stock === stock ? one.count : 0), 0);
    if (offer === null || used === 0) return;
    const bought = purchase(offer, used, null);
    needs += bought.count * offer.length;
    cost += bought.cost;
  });
  return { moulding: task.moulding.id, frames: [], needs: mm(needs), cost: money(cost) };
}

/** One clear run that would hold the missing rails, with the trims of a stick. */
function oneRun(task: MouldingTask, missing: Copies): Shortfall {
  const kinds = kindsOf(task.spacing);
  let [length, last] = [2 * task.moulding.endTrim, -1];
  demandsOf(task, missing).forEach((count, i) => {
    if (count === 0) return;
    const { kind, weight, settings } = task.items[i]!;
    length += last < 0 ? runLength(task.spacing, kind, settings) : weight + (kinds?.joint[last]?.[kind] ?? 0);
    length += (count - 1) * weight;
    last = kind;
  });
  return { moulding: task.moulding.id, frames: [], needs: mm(length), cost: null };
}

/** What completes the frames that `copies` leave out. */
export function shortfallOf(
  batch: Batch,
  task: MouldingTask,
  copies: Copies,
  engine: Engine,
  options: PlanOptions,
): Shortfall {
  const all = allCopies(batch, task);
  const missing = all.map((count, i) => count - copies[i]!);
  const frames = task.lines.flatMap((line, i) =>
    Array.from({ length: missing[i]! }, (_, n) => `${batch.frames[line]!.id}/${copies[i]! + n + 1}`),
  );
  return { ...(newSticks(task, missing, engine, options) ?? oneRun(task, missing)), frames };
}
