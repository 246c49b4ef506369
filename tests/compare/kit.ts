/** Small seeded orders to compare, and the same questions asked in other ways. */

import { allPatterns } from '../../bench/reference/all-patterns.js';
import { problemsOfBatch } from '../../bench/tools/batches.js';
import { compareHere } from '../../src/compare/here.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Comparison, MouldingComparison } from '../../src/documents/comparison/types.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { dice } from '../plan/batches.js';
import { engine, now } from '../plan/kit.js';

export type OfferDocument = NonNullable<BatchDocument['offers']>[number];

/** A batch with other offers. */
export function offering(document: BatchDocument, offers: readonly OfferDocument[]): BatchDocument {
  return { ...document, offers };
}

export function priced(document: BatchDocument, id: string, price: number): BatchDocument {
  return offering(
    document,
    (document.offers ?? []).map((offer) => (offer.id === id ? { ...offer, price } : offer)),
  );
}

export async function compared(document: BatchDocument): Promise<Comparison> {
  return compareHere(checkBatch(document), engine(), { now });
}

/** What a full plan of these offers costs, in cents, and its bound; null where it is short. */
export async function plannedCost(
  document: BatchDocument,
): Promise<{ readonly cost: number; readonly bound: number } | null> {
  const plan = planBatchHere(checkBatch(document), engine(), { now });
  if (plan.status === 'short') return null;
  const bound = plan.mouldings.reduce((sum, { proof }) => sum + proof.bound, 0);
  return { cost: Math.round(plan.totals.cost * 100), bound: Math.round(bound * 100) };
}

/** Least cost in cents of an integer programme over all patterns, solved by HiGHS; null where there is no plan. */
export async function leastCost(document: BatchDocument): Promise<number | null> {
  const highs = highsRuntime();
  let cost = 0;
  for (const problem of problemsOfBatch(checkBatch(document))) {
    const { kind, values } = allPatterns(highs, { ...problem, goals: 1 });
    if (kind === 'infeasible') return null;
    if (kind === 'limit') throw new Error('HiGHS was not given time enough');
    cost += values[0]!;
  }
  return cost;
}

/** A few frames of one moulding, some rack, two to four offers; prices near enough that answers change. */
export function smallOrder(name: string): BatchDocument {
  const at = dice(name);
  const feet = [6, 7, 8, 9, 10].filter(() => at.chance(0.6)).slice(0, 3);
  const lengths = feet.length < 2 ? [8, 10] : feet;
  return {
    schema: 'pairstop/batch@1',
    id: name,
    units: 'in',
    saw: { kerf: '3/32', recut: '1/16' },
    mouldings: [
      { id: 'm', face: at.whole(3, 8) / 4, rabbet: '1/4', endTrim: '1/2', reversible: at.chance(0.2) },
    ].map((moulding) => (moulding.reversible ? { ...moulding, rabbet: 0 } : moulding)),
    frames: Array.from({ length: at.whole(2, 3) }, (_, i) => ({
      id: `f${i}`,
      moulding: 'm',
      quantity: at.whole(1, 3),
      width: at.whole(24, 66) / 2,
      height: at.whole(24, 66) / 2,
    })),
    sticks: at.chance(0.4)
      ? [
          {
            id: 'r',
            moulding: 'm',
            length: at.whole(30, 90),
            quantity: at.whole(1, 2),
            ...(at.chance(0.5) ? { flaws: [['10', '12']] as const } : {}),
          },
        ]
      : [],
    offers: lengths.map((foot) => ({
      id: `o${foot}`,
      moulding: 'm',
      length: `${foot} ft`,
      price: Math.round(foot * (200 + at.whole(-12, 12))) / 100,
      ...(at.chance(0.15) ? { available: at.whole(2, 12) } : {}),
    })),
    options: { timeLimit: 60 },
  };
}

/** In money's hundredths, whatever a double makes of it. */
export const cents = (money: number): number => Math.round(money * 100);

/** Five frames from three lengths. */
export const ORDER: BatchDocument = {
  schema: 'pairstop/batch@1',
  id: 'quay-view',
  units: 'in',
  saw: { kerf: '3/32', recut: '1/16' },
  mouldings: [{ id: 'ash', face: '1 1/4', rabbet: '1/4', endTrim: '1/2' }],
  frames: [
    { id: 'A', moulding: 'ash', quantity: 3, width: 16, height: 20 },
    { id: 'B', moulding: 'ash', quantity: 2, width: 24, height: 30 },
  ],
  offers: [
    { id: 'eight', moulding: 'ash', length: '8 ft', price: 17.6 },
    { id: 'ten', moulding: 'ash', length: '10 ft', price: 21.4 },
    { id: 'twelve', moulding: 'ash', length: '12 ft', price: 27.9 },
  ],
  options: { timeLimit: 60 },
};

export async function one(document: BatchDocument): Promise<MouldingComparison> {
  return (await compared(document)).mouldings[0]!;
}

export function under(options: BatchDocument['options'], document = ORDER): BatchDocument {
  return { ...document, options: { ...document.options, ...options } };
}
