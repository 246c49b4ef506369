/** Answers one question with the engine. */
import { layOut } from '../layout/layout.js';
import { tidy } from '../layout/tidy.js';
import { handlingOf } from '../plan/handling.js';
import { plannedStick, plannedStop, stickCuts, totalsOf } from '../plan/measure.js';
import { runsOf, seconds } from '../plan/sawing/hours.js';
import { divide } from '../runs/divide.js';
import type { Engine } from '../solve/engine.js';
import type { Pattern, Problem } from '../solve/problem.js';
import { longestLane } from '../stock/impossible.js';
import { allCopies, problemOf, unpriced } from '../stock/problem.js';
import { purchase } from '../stock/purchase.js';
import { ResolvedBatch } from '../stock/resolved.js';
import { runLength } from '../stock/spacing.js';
import type { MouldingTask, Pile } from '../stock/task.js';
import { gaugesByLength, stopsOf } from '../stops/stops.js';
import type { Batch, Cents, Offer } from '../terms.js';
import { figuresOf } from './figures.js';
import {
  type Made,
  type NamedPattern,
  type OfferAnswer,
  type OfferQuestion,
  UNANSWERED,
} from './question.js';

export interface QuestionClock {
  /** Milliseconds from any origin; never goes back. */
  readonly now: () => number;
  /** On the same scale. */
  readonly deadline: number;
  readonly stopped?: () => boolean;
}

/** The batch of the question: one moulding, these offers, the order `times` over, every rail at its own setting. */
function varied(batch: Batch, { moulding, offers, rack, times }: OfferQuestion): Batch {
  const own = <T extends { readonly moulding: string }>(lines: readonly T[]): T[] =>
    lines.filter((line) => line.moulding === moulding);
  return {
    ...batch,
    mouldings: batch.mouldings.filter(({ id }) => id === moulding),
    frames: own(batch.frames).map((line) => ({ ...line, quantity: line.quantity * times })),
    sticks: [...own(batch.sticks), ...rack],
    offers,
    options: { ...batch.options, mergeStops: false },
  };
}

function nameOf({ sources }: Pile): string {
  return `${sources[0]!.source} ${sources[0]!.ref}`;
}

function tooLong(batch: Batch, task: MouldingTask): readonly string[] {
  const longest = longestLane(task);
  const lines = task.units.flatMap(({ item, line }) => {
    const { kind, settings } = task.items[item]!;
    return runLength(task.spacing, kind, settings) > longest ? [batch.frames[line]!.id] : [];
  });
  return [...new Set(lines)];
}

class Naming {
  readonly #names: readonly string[];
  readonly #place: ReadonlyMap<string, number>;

  constructor(task: MouldingTask) {
    this.#names = task.piles.map(nameOf);
    this.#place = new Map(this.#names.map((name, i) => [name, i]));
  }

  named({ stock, count, segments }: Pattern): NamedPattern {
    return { stock: this.#names[stock]!, count, segments };
  }

  numbered(patterns: readonly NamedPattern[]): Pattern[] {
    return patterns.flatMap(({ stock, count, segments }) => {
      const place = this.#place.get(stock);
      return place === undefined ? [] : [{ stock: place, count, segments }];
    });
  }
}

/** Whether all sticks together hold too little wood: then no search is needed. */
function tooLittle(task: MouldingTask, { items }: Problem): boolean {
  let holds = 0;
  for (const { supply, segments } of task.piles) {
    if (supply === null) return false;
    holds += supply * segments.reduce((sum, segment) => sum + segment, 0);
  }
  // A joint between unlike kinds only adds to the need.
  return items.reduce((sum, { weight, demand }) => sum + weight * demand, 0) > holds;
}

/** Pieces cut of each offer. */
function usedIn(task: MouldingTask, patterns: readonly Pattern[]): Record<string, number> {
  const used = new Map<string, number>();
  for (const { stock, count } of patterns) {
    const { offer } = task.piles[stock]!;
    if (offer !== null) used.set(offer.id, (used.get(offer.id) ?? 0) + count);
  }
  return Object.fromEntries(used);
}

function costOf(offers: readonly Offer[], used: Readonly<Record<string, number>>): Cents {
  return offers.reduce((sum, offer) => sum + purchase(offer, used[offer.id] ?? 0).cost, 0);
}

/** The figures of a known plan. */
function laidOut(
  asked: Batch,
  task: MouldingTask,
  known: readonly Pattern[],
  { rate, tidied }: NonNullable<OfferQuestion['layOut']>,
): Made {
  const patterns = tidied ? tidy(task, known) : known;
  const copies = allCopies(asked, task);
  const layout = layOut(task, copies, divide(task, copies, patterns, asked.saw, null).runs);
  const stops = stopsOf(layout.groups, gaugesByLength(asked.gauges));
  const sticks = layout.sticks.map((stick) => plannedStick(asked, task, stick));
  const used = usedIn(task, patterns);
  const cost = costOf(task.offers, used);
  const totals = totalsOf(task, layout, stops, cost);
  const planned = stops.map((stop) => plannedStop(asked, task, stop));
  const { moulding } = task;
  const cuts = layout.sticks.map((stick) => stickCuts(task, stick));
  const { time } = runsOf({ moulding, labour: asked.labour, sticks, stops: planned, cuts });
  return {
    kind: 'made',
    cost,
    bound: 0,
    used,
    patterns: [],
    figures: {
      ...figuresOf(task, sticks, totals, handlingOf(sticks, planned), rate),
      seconds: seconds(time),
    },
  };
}

export function answer(
  batch: Batch,
  question: OfferQuestion,
  engine: Engine,
  clock: QuestionClock,
): OfferAnswer {
  const { now, deadline } = clock;
  const begin = now();
  const { layOut: laying } = question;
  if (begin >= deadline && laying === null) return UNANSWERED;
  const asked = varied(batch, question);
  const resolved = new ResolvedBatch(asked);
  const ordered = resolved.task(resolved.order(question.moulding));
  if (ordered === null) throw new RangeError(`nothing is ordered of ${question.moulding}`);
  const task = unpriced(ordered);
  const naming = new Naming(task);
  if (laying !== null) return laidOut(asked, task, naming.numbered(question.start), laying);
  const lines = tooLong(asked, task);
  if (lines.length > 0) return { kind: 'none', proven: true, tooLong: lines };
  const { problem, inward, outward } = problemOf(task, allCopies(asked, task));
  if (tooLittle(task, problem)) return { kind: 'none', proven: true, tooLong: [] };
  const { above, below, patience, effort: work } = question;
  const outcome = engine.solve(problem, {
    now,
    deadline: begin + (deadline - begin) * question.share,
    seed: batch.options.seed,
    work,
    enough: ({ proofs }) => {
      const { value, bound } = proofs[0]!;
      if (below !== null && value < below) return 0;
      return above !== null && bound > above ? patience : Number.POSITIVE_INFINITY;
    },
    ...(clock.stopped && { stopped: clock.stopped }),
    start: naming.numbered(question.start).map(inward),
  });
  if (outcome.kind === 'none') return { kind: 'none', proven: outcome.proven, tooLong: [] };
  const patterns = outcome.patterns.map(outward);
  const used = usedIn(task, patterns);
  return {
    kind: 'made',
    cost: costOf(question.offers, used),
    // Without offers there is only the rack, and nothing is paid.
    bound: task.goals[0] === 'cost' ? outcome.proofs[0]!.bound : 0,
    used,
    patterns: patterns.map((pattern) => naming.named(pattern)),
    figures: null,
  };
}
