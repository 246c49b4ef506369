/**
 * One batch that asks of every purchase in a comparison whether it makes the order: each has its frames, the rack and so
 * many sticks to itself. Whoever plans it hands back a plan, which is verified here as any other; how it was found does
 * not matter.
 */
import type { Comparison } from '../../documents/comparison/types.js';
import type { Plan, PlannedPurchase } from '../../documents/plan/types.js';
import type { Batch } from '../../terms.js';
import { checkPlan } from '../check.js';
import { withShopRack } from '../wood/shop-rack.js';
import { type Makes, purchaseKey } from './context.js';

/** Seconds at least: time running out would speak against a comparison that is right. It ends with the last plan found. */
const LEAST_LIMIT = 30;

export interface PurchaseTrial {
  readonly batch: Batch;
  /** By the key of a purchase: its moulding in that batch. */
  readonly mouldings: ReadonlyMap<string, string>;
}

/** Nothing is bought beyond these pieces, and no less than what the order needs is made. */
export function trialOf(given: Batch, comparison: Comparison): PurchaseTrial {
  const batch = withShopRack(given, comparison);
  const skipped = new Set(comparison.skipped);
  const named = new Map<string, string>();
  const parts: Pick<Batch, 'mouldings' | 'frames' | 'sticks' | 'offers'>[] = [];
  const add = (id: string, buy: readonly PlannedPurchase[]): void => {
    const key = purchaseKey(id, buy);
    const moulding = batch.mouldings.find((one) => one.id === id);
    if (named.has(key) || moulding === undefined) return;
    const name = `${named.size + 1} ${id}`;
    named.set(key, name);
    const own = <T extends { readonly id: string; readonly moulding: string }>(all: readonly T[]): T[] =>
      all
        .filter((one) => one.moulding === id)
        .map((one) => ({ ...one, id: `${named.size} ${one.id}`, moulding: name }));
    const counts = new Map(buy.map(({ offer, count }) => [`${named.size} ${offer}`, count]));
    parts.push({
      mouldings: [{ ...moulding, id: name }],
      frames: own(batch.frames.filter((line) => !skipped.has(line.id))),
      sticks: own(batch.sticks),
      offers: own(batch.offers).flatMap((offer) => {
        const available = counts.get(offer.id);
        return available === undefined ? [] : [{ ...offer, available, pack: 1, breaks: [], supplier: null }];
      }),
    });
  };
  for (const { moulding, scenarios } of comparison.mouldings) {
    for (const { status, buy } of scenarios) if (status === 'complete') add(moulding, buy);
  }
  return {
    batch: {
      ...batch,
      id: `${batch.id}, each purchase`,
      rack: null,
      suppliers: [],
      mouldings: parts.flatMap(({ mouldings }) => mouldings),
      frames: parts.flatMap(({ frames }) => frames),
      sticks: parts.flatMap(({ sticks }) => sticks),
      offers: parts.flatMap(({ offers }) => offers),
      labour: { ...batch.labour, rate: null },
      options: {
        ...batch.options,
        timeLimit: Math.max(batch.options.timeLimit, LEAST_LIMIT),
        mergeStops: false,
        skipImpossible: true,
      },
    },
    mouldings: named,
  };
}

/** What a plan of the trial shows. A plan that does not hold shows nothing. */
export function makesOf({ batch, mouldings }: PurchaseTrial, plan: Plan): Makes {
  const holds = checkPlan(batch, plan).ok;
  const made = new Set(
    plan.mouldings.filter(({ status }) => status === 'complete').map(({ moulding }) => moulding),
  );
  return (moulding, buy) => {
    const name = mouldings.get(purchaseKey(moulding, buy));
    return holds && name !== undefined && made.has(name);
  };
}
