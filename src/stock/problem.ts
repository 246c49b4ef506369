/** The engine's problem for one moulding, whole or for some of its frames. */
import type { Pattern, Problem, Stock } from '../solve/problem.js';
import type { Batch } from '../terms.js';
import { chargeOf } from './charge.js';
import { groupRails, type Lengths } from './items.js';
import type { Order } from './lines.js';
import { goalsOf, pilesOf } from './piles.js';
import { purchaseOf } from './purchase.js';
import { kindsOf } from './spacing.js';
import type { Copies, MouldingTask, Pile } from './task.js';

/**
 * Everything about one moulding but how many frames are made; null when nothing is ordered in it. `lengths`: where
 * stops are merged, the settings of rails that are not cut at their own.
 */
export function taskOf(batch: Batch, order: Order, lengths?: Lengths): MouldingTask | null {
  if (order.lines.length === 0) return null;
  const { goals, proofGoal } = goalsOf(order.rack, order.offers.length);
  const grouped = groupRails(batch, order.moulding, order.lines, lengths);
  const piles = pilesOf(batch.units, order, goals, grouped);
  const charge = goals[0] === 'cost' ? chargeOf(batch.labour, grouped.spacing, grouped.items) : null;
  return { ...order, ...grouped, piles, charge, goals, proofGoal };
}

/** Every frame of every line. */
export function allCopies(batch: Batch, task: MouldingTask): Copies {
  return task.lines.map((line) => batch.frames[line]!.quantity);
}

/** `scale`: units of money in a cent. */
function stockOf(pile: Pile, scale: number): Stock {
  const { segments, supply, offer } = pile;
  const plain = offer === null || (offer.pack === 1 && offer.breaks.length === 0);
  const purchase = plain ? null : purchaseOf(offer);
  const costs = pile.costs.map((cost, goal) => (goal === 0 ? cost * scale : cost));
  if (purchase === null) return { segments, costs, supply, purchase };
  const tiers = purchase.tiers.map(({ from, price }) => ({ from, price: price * scale }));
  return { segments, costs, supply, purchase: { ...purchase, tiers } };
}

/** The same task with time free: the goal is the least wood bought. */
export function unpriced(task: MouldingTask): MouldingTask {
  return task.charge === null ? task : { ...task, charge: null };
}

/** How many of each item these frames need. */
export function demandsOf(task: MouldingTask, copies: Copies): readonly number[] {
  const demand = task.items.map(() => 0);
  const place = new Map(task.lines.map((line, i) => [line, i]));
  for (const unit of task.units) {
    const count = copies[place.get(unit.line)!] ?? 0;
    demand[unit.item]! += count * (unit.whole ? 1 : unit.sides.length);
  }
  return demand;
}

export interface SubProblem {
  readonly problem: Problem;
  /** Pattern with the task's item numbers → the problem's, and back. */
  readonly inward: (pattern: Pattern) => Pattern;
  readonly outward: (pattern: Pattern) => Pattern;
}

function renumber(pattern: Pattern, to: (item: number) => number): Pattern {
  const segments = pattern.segments.map((segment) =>
    segment.flatMap(({ item, count }) => (to(item) < 0 ? [] : [{ item: to(item), count }])),
  );
  return { ...pattern, segments };
}

/** The problem of making `copies` frames of each line; items nobody needs then are left out. */
export function problemOf(task: MouldingTask, copies: Copies): SubProblem {
  const demand = demandsOf(task, copies);
  const kept = demand.flatMap((count, i) => (count > 0 ? [i] : []));
  const place = new Map(kept.map((item, i) => [item, i]));
  const problem: Problem = {
    items: kept.map((i) => ({
      weight: task.items[i]!.weight,
      demand: demand[i]!,
      kind: task.items[i]!.kind,
    })),
    stocks: task.piles.map((pile) => stockOf(pile, task.charge?.scale ?? 1)),
    kinds: kindsOf(task.spacing),
    goals: task.goals.length,
    ...(task.charge && {
      setups: {
        item: kept.map((i) => task.charge!.setups.item[i]!),
        piece: task.charge.setups.piece,
      },
    }),
  };
  return {
    problem,
    inward: (pattern) => renumber(pattern, (item) => place.get(item) ?? -1),
    outward: (pattern) => renumber(pattern, (item) => kept[item]!),
  };
}
