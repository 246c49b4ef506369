/**
 * Merging stops: the fewest settings that serve every rail within its play, and among the choices that reach them the
 * one whose plan costs least. The frames made are those made with every rail at its own setting, so merging never
 * costs a frame; where a merged plan cannot hold them, every rail keeps its own setting.
 *
 * The number of settings is exact (`src/merge`). Choices of the same number differ in which rails are cut longer; the
 * `CHOICES` with the least length of rails, none longer than another in every rail, are each solved, and the cheapest
 * is kept. What is proven is the cost for the settings of that choice. As long as all rails share one angle, no choice
 * can undercut the bound of the unmerged plan, for a shorter rail fits wherever a longer one does; nor, where every
 * choice worth solving was solved, the least of their bounds. Where neither says so, a notice does.
 */

import { moneyFromCents } from '../documents/money.js';
import type { MergingFigures, WayOfCutting } from '../documents/plan/types.js';
import { mmFromUm } from '../lengths/units.js';
import { choicesOf } from '../merge/choices.js';
import { byLine, type Sides, sidesOfLines } from '../merge/sides.js';
import type { Engine } from '../solve/engine.js';
import type { Proof } from '../solve/problem.js';
import { longestLane } from '../stock/impossible.js';
import type { Order } from '../stock/lines.js';
import { allCopies, taskOf } from '../stock/problem.js';
import { runLength } from '../stock/spacing.js';
import type { MouldingTask } from '../stock/task.js';
import type { Batch, Um } from '../terms.js';
import { type Answer, buildLesser, lesser, type Missing, proofOf, withBound } from './build.js';
import { choiceNotice, notMerged, type WhyNotMerged } from './notices.js';
import { pairsTogether } from './pairs/together.js';
import type { MergedStops, MouldingPart, PlanOptions } from './part.js';
import { pricedValue } from './priced.js';
import { inRuns } from './sawing/in-runs.js';
import { ask, framesIn, HANDLING_SHARE, RUNS_SHARE, TRIES_SHARE } from './solving.js';

/** Choices of settings that are solved; some are worth their time only where boards are cut very tightly. */
const CHOICES = 6;

function wayOf({ totals, plan }: MouldingPart): WayOfCutting {
  return {
    stopSettings: totals.stopSettings,
    sticks: totals.sticks,
    stockLength: mmFromUm(totals.stockLength),
    cost: moneyFromCents(totals.cost),
    bound: plan.proof.bound,
  };
}

/** A part whose rails are all at their own settings, as the answer to a batch that may ask for merging. */
export function unmergedPart(
  batch: Batch,
  task: MouldingTask,
  part: MouldingPart,
  why: WhyNotMerged,
): MouldingPart {
  if (!batch.options.mergeStops) return part;
  const way = wayOf(part);
  const { sides, rings } = sidesOfLines(batch, task.moulding, task.lines, part.copies);
  const leastSettings = choicesOf(sides, rings, [], 1).least;
  const merging = { unmerged: way, merged: way, leastSettings, choices: 0 };
  const notice = part.plan.sticks.length === 0 ? [] : [notMerged(part.moulding, why)];
  return withFigures({ ...part, notices: [...part.notices, ...notice] }, merging, part, null);
}

function withFigures(
  part: MouldingPart,
  merging: MergingFigures,
  apart: MouldingPart,
  merged: MergedStops | null,
): MouldingPart {
  const { stopSettings, cost } = apart.totals;
  return {
    ...part,
    plan: { ...part.plan, merging },
    totals: { ...part.totals, unmerged: { stopSettings, cost } },
    patterns: apart.patterns,
    merged,
  };
}

/** Whether any rail of the moulding may be cut longer than its own setting. */
export function mayMerge(batch: Batch, task: MouldingTask): boolean {
  const { sides } = sidesOfLines(batch, task.moulding, task.lines, allCopies(batch, task));
  return sides.some(({ low, high }) => low < high);
}

/** Ranges end where the longest clear span can hold a rail, or those that must lie beside it, no more. */
function shortened(task: MouldingTask, all: Sides): Sides {
  const longest = longestLane(task);
  const sides = [...all.sides];
  for (const unit of task.units) {
    const { kind, settings } = task.items[unit.item]!;
    const room = Math.max(0, longest - runLength(task.spacing, kind, settings));
    const begin = all.first.get(unit.line)!;
    const own = unit.sides[0] === 'right' ? [begin + 1] : [begin];
    const both = unit.sides[0] === 'top' && unit.sides[1] === 'right' ? [begin, begin + 1] : own;
    for (const at of both) {
      const side = sides[at]!;
      const high = side.low + Math.floor(room / (settings.length / both.length));
      if (high < side.high) sides[at] = { ...side, high };
    }
  }
  return { ...all, sides };
}

interface Merged {
  readonly task: MouldingTask;
  readonly lengths: readonly Um[];
  readonly answer: Answer & { readonly others?: readonly Answer[] };
  readonly work: number;
}

/** Goal by goal, as the engine ranks plans. */
function cheaper(a: readonly Proof[], b: readonly Proof[]): boolean {
  for (let goal = 0; goal < a.length; goal++) {
    const by = a[goal]!.value - b[goal]!.value;
    if (by !== 0) return by < 0;
  }
  return false;
}

function same(a: readonly Um[], b: readonly Um[]): boolean {
  return a.length === b.length && a.every((length, i) => length === b[i]);
}

class Merging {
  readonly #batch: Batch;
  readonly #order: Order;
  readonly #apart: MouldingPart;
  readonly #engine: Engine;
  readonly #options: PlanOptions;
  #solved = 0;
  /** No choice costs less, in millimetres or money; as far as is known. */
  #floor: number;

  constructor(batch: Batch, order: Order, apart: MouldingPart, engine: Engine, options: PlanOptions) {
    this.#batch = batch;
    this.#order = order;
    this.#apart = apart;
    this.#engine = engine;
    this.#options = options;
    this.#floor = apart.plan.proof.bound;
  }

  get #missing(): Missing | null {
    const { shortfall, shortfallProven } = this.#apart;
    return shortfall === null ? null : { shortfall, proven: shortfallProven };
  }

  part({ task, lengths, answer }: Pick<Merged, 'task' | 'lengths' | 'answer'>, least: number): MouldingPart {
    const apart = this.#apart;
    const part = buildLesser(this.#batch, task, answer, this.#missing);
    const way = wayOf(part);
    const merging = {
      unmerged: wayOf(apart),
      merged: way,
      leastSettings: least,
      choices: Math.max(1, this.#solved),
    };
    const { value } = part.plan.proof;
    const open = task.spacing.mitres.length > 1 || value > this.#floor;
    const notices = open ? [...part.notices, choiceNotice(task, merging.choices)] : part.notices;
    const kept = { lengths, patterns: part.patterns };
    return this.#keepBound(task, withFigures({ ...part, notices }, merging, apart, kept));
  }

  /** As for the unmerged plan: what was proven of these very settings still holds. */
  #keepBound(task: MouldingTask, part: MouldingPart): MouldingPart {
    const { start } = this.#options;
    const known = start?.merged;
    const { proof, merging } = part.plan;
    if (start === undefined || !known || merging === undefined || task.proofGoal !== 0) return part;
    if (!same(known.lengths, part.merged?.lengths ?? []) || !same(start.copies, part.copies)) return part;
    const better = withBound(proof, start.plan.proof.bound);
    if (better.bound <= proof.bound) return part;
    const merged = { ...merging.merged, bound: better.bound };
    return { ...part, plan: { ...part.plan, proof: better, merging: { ...merging, merged } } };
  }

  /** In cents: wood and time at the rate, laid out. */
  #costs(task: MouldingTask, answer: Merged['answer']): number {
    return pricedValue(this.#batch, buildLesser(this.#batch, task, answer, this.#missing).totals);
  }

  /** The cheapest plan over the choices, each given an even share of the time left; null where none has a plan. */
  #search(sides: Sides, choices: readonly (readonly Um[])[], all: boolean, least: number): Merged | null {
    const { now, start } = this.#options;
    const { copies, plan } = this.#apart;
    const deadline = this.#options.deadline - Math.max(0, this.#options.deadline - now()) * HANDLING_SHARE;
    let best: Merged | null = null;
    let floor = all ? Number.POSITIVE_INFINITY : 0;
    for (const [i, lengths] of choices.entries()) {
      const task = taskOf(this.#batch, this.#order, byLine(sides, lengths))!;
      const known = start?.merged && same(start.merged.lengths, lengths) ? start.merged.patterns : [];
      const begin = now();
      const answer = ask(this.#batch, this.#engine, this.#options, {
        task,
        copies,
        start: known,
        deadline: begin + Math.max(0, deadline - begin) / (choices.length - i),
        certain: false,
        cut: false,
        part: (one) => this.part({ task, lengths, answer: one }, least),
      });
      this.#solved += 1;
      if (answer.kind === 'none') {
        if (!answer.proven) floor = 0;
        continue;
      }
      if (answer.priced) {
        floor = 0;
        if (best === null || this.#costs(task, answer) < this.#costs(best.task, best.answer))
          best = { task, lengths, answer, work: answer.work };
        continue;
      }
      floor = Math.min(floor, task.proofGoal === 0 ? proofOf(task, answer.proofs).bound : 0);
      if (best === null || cheaper(answer.proofs, best.answer.proofs))
        best = { task, lengths, answer, work: answer.work };
      // No choice is cheaper than the unmerged bound, and with one goal nothing else counts.
      const { goals, spacing } = task;
      const { value } = proofOf(task, best.answer.proofs);
      if (goals.length === 1 && spacing.mitres.length === 1 && value <= plan.proof.bound) return best;
    }
    if (best !== null) this.#floor = Math.max(this.#floor, floor);
    return best;
  }

  /** The plan that is cut, handy; null where no choice has a plan. */
  best(sides: Sides, choices: readonly (readonly Um[])[], all: boolean, least: number): Merged | null {
    const { now, deadline } = this.#options;
    const handling = Math.max(0, deadline - now()) * HANDLING_SHARE;
    const best = this.#search(sides, choices, all, least);
    if (best === null || best.answer.priced) return best;
    const { task, answer, work } = best;
    const until = (share: number): PlanOptions => ({
      ...this.#options,
      deadline: deadline - handling * (1 - share),
    });
    const handy = pairsTogether(task, answer, work, this.#engine, { ...until(TRIES_SHARE), last: deadline });
    return { ...best, answer: inRuns(this.#batch, task, handy, until(RUNS_SHARE), { engine: this.#engine }) };
  }
}

/**
 * `apart` is the plan with every rail at its own setting, of `task`. `hurried`: the time cut its search short, so one
 * choice gets what is left; several would be compared by how far each search got.
 */
export function mergeStops(
  batch: Batch,
  order: Order,
  task: MouldingTask,
  apart: MouldingPart,
  engine: Engine,
  options: PlanOptions,
  hurried: boolean,
): MouldingPart {
  if (framesIn(apart.copies) === 0) return apart;
  const asked = sidesOfLines(batch, task.moulding, task.lines, apart.copies);
  const gauges = batch.gauges.map(({ length }) => length).sort((a, b) => a - b);
  const sides = shortened(task, asked);
  const choices = choicesOf(sides.sides, sides.rings, gauges, CHOICES);
  // What no stick is long enough for is left out of the ranges that are cut, not of the number that is claimed.
  const { least } = same(
    sides.sides.map(({ high }) => high),
    asked.sides.map(({ high }) => high),
  )
    ? choices
    : choicesOf(asked.sides, asked.rings, gauges, 1);
  const own = sides.sides.map(({ low }) => low);
  if (choices.lengths.some((lengths) => same(lengths, own))) {
    const why = asked.sides.some(({ low, high }) => low < high) ? 'none equal' : 'no play';
    return unmergedPart(batch, task, apart, why);
  }
  const merging = new Merging(batch, order, apart, engine, options);
  const first = choices.lengths.findIndex((lengths) => same(lengths, options.start?.merged?.lengths ?? []));
  const inTurn =
    first > 0 ? [choices.lengths[first]!, ...choices.lengths.toSpliced(first, 1)] : choices.lengths;
  const tried = hurried ? inTurn.slice(0, 1) : inTurn;
  const best = merging.best(sides, tried, choices.all && tried.length === inTurn.length, least);
  if (best === null) return unmergedPart(batch, task, apart, 'too long');
  const merged = merging.part(best, least);
  // Where time has a price, merging has one too: stops and visits saved against wood.
  if (!best.answer.priced || lesser(batch, apart, merged) === merged) return merged;
  return unmergedPart(batch, task, apart, 'dearer');
}
