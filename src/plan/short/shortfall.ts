/** What would complete the frames that were not made: a length of stock, at the offers' prices where there are any. */

import { frameId } from '../../documents/ids.js';
import { moneyFromCents } from '../../documents/money.js';
import type { Shortfall } from '../../documents/plan/types.js';
import { mmFromUm, umFromMm } from '../../lengths/units.js';
import type { Engine } from '../../solve/engine.js';
import { pilesOf } from '../../stock/piles.js';
import { allCopies, demandsOf, problemOf } from '../../stock/problem.js';
import { purchase } from '../../stock/purchase.js';
import { oneStickLength, runLength } from '../../stock/spacing.js';
import type { Copies, MouldingTask, Pile } from '../../stock/task.js';
import { type Batch, RAW_ENDS, type RackEntry, type Um, type Units } from '../../terms.js';
import type { MouldingPart, PlanOptions } from '../part.js';
import { questionEnd } from './shortage.js';

/** What the missing frames take of the offers, as if these had no end, beside the pieces of `rack`; null: no offer can. */
function newSticks(
  batch: Batch,
  task: MouldingTask,
  missing: Copies,
  rack: readonly RackEntry[],
  engine: Engine,
  options: PlanOptions,
): Shortfall | null {
  const offers = task.offers.map((offer) => ({ ...offer, available: null }));
  if (offers.length === 0) return null;
  const piles: readonly Pile[] = pilesOf(batch.units, { ...task, rack, offers }, ['cost'], task);
  const { problem } = problemOf({ ...task, piles, charge: null, goals: ['cost'] }, missing);
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
  return { moulding: task.moulding.id, frames: [], needs: mmFromUm(needs), cost: moneyFromCents(cost) };
}

/** One clear run that would hold the missing rails, with the trims of a stick. */
function oneRun(task: MouldingTask, missing: Copies): Shortfall {
  const rows = demandsOf(task, missing).map((count, i) => ({ item: task.items[i]!, count }));
  const needs = mmFromUm(oneStickLength(task, rows));
  return { moulding: task.moulding.id, frames: [], needs, cost: null };
}

function missingOf(batch: Batch, task: MouldingTask, copies: Copies): Copies {
  return allCopies(batch, task).map((count, i) => count - copies[i]!);
}

function framesOf(batch: Batch, task: MouldingTask, copies: Copies, missing: Copies): readonly string[] {
  return task.lines.flatMap((line, i) =>
    Array.from({ length: missing[i]! }, (_, n) => frameId(batch.frames[line]!.id, copies[i]! + n + 1)),
  );
}

/** Every frame of a moulding that has no plan. What it takes of the offers is not known: that would be a plan. */
export function wholeShortfall(batch: Batch, task: MouldingTask): Shortfall {
  const all = allCopies(batch, task);
  const none = all.map(() => 0);
  return { ...oneRun(task, all), frames: framesOf(batch, task, none, all) };
}

/** What completes the frames that `copies` leave out. */
export function shortfallOf(
  batch: Batch,
  task: MouldingTask,
  copies: Copies,
  engine: Engine,
  options: PlanOptions,
): Shortfall {
  const missing = missingOf(batch, task, copies);
  const frames = framesOf(batch, task, copies, missing);
  return { ...(newSticks(batch, task, missing, [], engine, options) ?? oneRun(task, missing)), frames };
}

/** What a plan leaves: rack pieces it does not touch, and its offcuts as they would lie on the rack. */
function leftovers(task: MouldingTask, { plan }: MouldingPart): readonly RackEntry[] {
  const used = new Map<string, number>();
  for (const { source, ref } of plan.sticks) if (source === 'rack') used.set(ref, (used.get(ref) ?? 0) + 1);
  const whole = task.rack.flatMap((entry) => {
    const quantity = entry.quantity - (used.get(entry.id) ?? 0);
    return quantity > 0 ? [{ ...entry, quantity }] : [];
  });
  const offcuts = plan.sticks.flatMap(({ stick, left }) =>
    left.flatMap(({ from, to, use, piece }, i): RackEntry[] => {
      if (use !== 'offcut') return [];
      const length = umFromMm(piece?.length ?? to - from);
      return [
        {
          id: `${stick} ${i}`,
          moulding: task.moulding.id,
          length,
          quantity: 1,
          flaws: [],
          ends: piece?.ends ?? RAW_ENDS,
          value: 0,
        },
      ];
    }),
  );
  return [...whole, ...offcuts];
}

/** A stick is bought and told by the tape: to the next of these marks, micrometres. */
const MARK: Readonly<Record<Units, number>> = { in: 25_400 / 16, mm: 1_000 };

/** Whether the missing frames can be cut from the pieces of `rack` and one more stick of this length. */
function completes(
  batch: Batch,
  task: MouldingTask,
  missing: Copies,
  rack: readonly RackEntry[],
  length: Um,
  engine: Engine,
  options: PlanOptions,
): boolean {
  const stick = {
    id: '',
    moulding: task.moulding.id,
    length,
    quantity: 1,
    flaws: [],
    ends: RAW_ENDS,
    value: 0,
  };
  const piles = pilesOf(batch.units, { ...task, rack: [...rack, stick], offers: [] }, ['length'], task);
  const { problem } = problemOf({ ...task, piles, goals: ['length'] }, missing);
  let found = false;
  const outcome = engine.solve(problem, {
    now: options.now,
    deadline: questionEnd(options),
    seed: options.seed,
    onImproved: () => {
      found = true;
    },
    stopped: () => found || options.stopped?.() === true,
  });
  return outcome.kind === 'solved';
}

/**
 * The shortest single stick that completes the missing frames beside what the plan leaves, found by halving between
 * the longest rail and one run of them all. Where a question is not answered in its time the stick is longer, and does.
 */
function leastStick(
  batch: Batch,
  task: MouldingTask,
  missing: Copies,
  rack: readonly RackEntry[],
  most: Um,
  engine: Engine,
  options: PlanOptions,
): Um {
  const mark = MARK[batch.units];
  const items = demandsOf(task, missing).flatMap((count, i) => (count > 0 ? [task.items[i]!] : []));
  const longest = Math.max(...items.map(({ kind, settings }) => runLength(task.spacing, kind, settings)));
  let [over, fits] = [Math.floor(longest / mark), Math.ceil(most / mark)];
  while (fits - over > 1) {
    const middle = Math.floor((over + fits) / 2);
    const does = completes(batch, task, missing, rack, Math.floor(middle * mark), engine, options);
    if (does) fits = middle;
    else over = middle;
  }
  return Math.min(most, Math.ceil(fits * mark));
}

/** The same part; what would complete it is reckoned with what it leaves, where that is less. */
export function withLeftovers(
  batch: Batch,
  task: MouldingTask,
  part: MouldingPart,
  engine: Engine,
  options: PlanOptions,
): MouldingPart {
  const { shortfall, copies } = part;
  if (shortfall === null) return part;
  const rack = leftovers(task, part);
  if (rack.length === 0) return part;
  const missing = missingOf(batch, task, copies);
  if (shortfall.cost === null) {
    const most = umFromMm(shortfall.needs);
    const needs = mmFromUm(leastStick(batch, task, missing, rack, most, engine, options));
    return { ...part, shortfall: { ...shortfall, needs } };
  }
  const found = newSticks(batch, task, missing, rack, engine, options);
  if (found === null || !(found.needs > 0) || found.cost === null || found.cost >= shortfall.cost)
    return part;
  return { ...part, shortfall: { ...found, frames: shortfall.frames } };
}
