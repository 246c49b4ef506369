/** Answers one question with the engine. */
import { buildPart } from '../plan/build.js';
import type { Engine } from '../solve/engine.js';
import type { Pattern, Problem } from '../solve/problem.js';
import { ordersOf } from '../stock/orders.js';
import { allCopies, problemOf, taskOf } from '../stock/problem.js';
import { purchase } from '../stock/purchase.js';
import { longestLane } from '../stock/refusals.js';
import { runLength } from '../stock/spacing.js';
import type { MouldingTask, Pile } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { figuresOf } from './figures.js';
import type { Answer, NamedPattern, NotMade, Question } from './question.js';

export interface Clock {
  /** Milliseconds from an arbitrary origin, never going back. */
  readonly now: () => number;
  /** On the same scale. */
  readonly deadline: number;
  readonly stopped?: () => boolean;
}

/** The batch as the question has it: one moulding, these offers, the order `times` over, every rail at its own setting. */
export function varied(batch: Batch, { moulding, offers, rack, times }: Question): Batch {
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

/** More wood is needed than all sticks hold together: no search is needed. */
function tooLittle(task: MouldingTask, { items }: Problem): boolean {
  let holds = 0;
  for (const { supply, segments } of task.piles) {
    if (supply === null) return false;
    holds += supply * segments.reduce((sum, segment) => sum + segment, 0);
  }
  // Where kinds meet, joints only add to what is needed.
  return items.reduce((sum, { weight, demand }) => sum + weight * demand, 0) > holds;
}

const NONE: NotMade = { kind: 'none', proven: false, tooLong: [] };

export function answer(batch: Batch, question: Question, engine: Engine, clock: Clock): Answer {
  const { now, deadline } = clock;
  const begin = now();
  if (begin >= deadline) return NONE;
  const asked = varied(batch, question);
  const task = taskOf(asked, ordersOf(asked).get(question.moulding)!);
  if (task === null) throw new RangeError(`nothing is ordered of ${question.moulding}`);
  const lines = tooLong(asked, task);
  if (lines.length > 0) return { kind: 'none', proven: true, tooLong: lines };
  const copies = allCopies(asked, task);
  const { problem, inward, outward } = problemOf(task, copies);
  if (tooLittle(task, problem)) return { kind: 'none', proven: true, tooLong: [] };
  const naming = new Naming(task);
  const priced = task.goals[0] === 'cost';
  let [value, bound, looks] = [Number.POSITIVE_INFINITY, 0, 0];
  const enough = (): boolean => {
    if (question.below !== null && value < question.below) return true;
    if (looks < question.patience) return false;
    return question.above !== null && bound > question.above;
  };
  const outcome = engine.solve(question.figures === null ? { ...problem, goals: 1 } : problem, {
    now,
    deadline: begin + (deadline - begin) * question.share,
    seed: batch.options.seed,
    onImproved: ({ proofs }) => {
      value = proofs[0]!.value;
      bound = proofs[0]!.bound;
    },
    stopped: () => {
      looks += 1;
      return enough() || looks > question.effort || clock.stopped?.() === true;
    },
    start: naming.numbered(question.start).map(inward),
  });
  if (outcome.kind === 'none') return { kind: 'none', proven: outcome.proven, tooLong: [] };
  const patterns = outcome.patterns.map(outward);
  const used = new Map<string, number>();
  for (const { stock, count } of patterns) {
    const { offer } = task.piles[stock]!;
    if (offer !== null) used.set(offer.id, (used.get(offer.id) ?? 0) + count);
  }
  const cost = question.offers.reduce((sum, offer) => sum + purchase(offer, used.get(offer.id) ?? 0).cost, 0);
  const proof = outcome.proofs[0]!;
  if (priced && proof.value !== cost)
    throw new RangeError(`${cost} counted where the engine has ${proof.value}`);
  const { figures } = question;
  const part = figures && buildPart(asked, task, { copies, patterns, proofs: outcome.proofs }, null);
  return {
    kind: 'made',
    cost,
    bound: priced ? proof.bound : 0,
    used: Object.fromEntries(used),
    patterns: patterns.map((pattern) => naming.named(pattern)),
    figures: figures && part && figuresOf(task, part, figures.rate),
  };
}
