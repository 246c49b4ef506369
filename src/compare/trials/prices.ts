/** Offers at other prices. All prices of an offer move together by whole cents, so no plan gets cheaper as they rise. */
import { centsFromMoney } from '../../documents/money.js';
import { MONEY } from '../../read/limits.js';
import type { Cents, Offer } from '../../terms.js';
import { costAt } from '../known.js';
import type { Made } from '../question.js';

const DEAREST: Cents = centsFromMoney(MONEY);

/** The offers with the prices of one moved by `by`. */
export function moved(offers: readonly Offer[], id: string, by: Cents): readonly Offer[] {
  return offers.map((offer) =>
    offer.id === id
      ? {
          ...offer,
          price: offer.price + by,
          breaks: offer.breaks.map((step) => ({ ...step, price: step.price + by })),
        }
      : offer,
  );
}

/** How far the prices of an offer may move: none below 0, none above the dearest allowed. */
export function reach({ price, breaks }: Offer): { readonly low: Cents; readonly high: Cents } {
  const prices = [price, ...breaks.map((step) => step.price)];
  return { low: -Math.min(...prices), high: DEAREST - Math.max(...prices) };
}

export function costMoved(used: Made['used'], offers: readonly Offer[], id: string, by: Cents): Cents {
  return costAt(used, moved(offers, id, by)) ?? Number.POSITIVE_INFINITY;
}

/** Largest whole number from `low` to `high` for which `holds`, which holds up to some number and not beyond; null: none. */
export function last(low: number, high: number, holds: (at: number) => boolean): number | null {
  if (!holds(low)) return null;
  if (holds(high)) return high;
  let [yes, no] = [low, high];
  while (no - yes > 1) {
    const middle = Math.floor((yes + no) / 2);
    if (holds(middle)) yes = middle;
    else no = middle;
  }
  return yes;
}

/** Smallest whole number for which `holds`, which holds from some number on; null: none. */
export function first(low: number, high: number, holds: (at: number) => boolean): number | null {
  if (!holds(high)) return null;
  const before = last(low, high, (at) => !holds(at));
  return before === null ? low : before + 1;
}
