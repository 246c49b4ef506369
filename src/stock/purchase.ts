/** What pieces of an offer cost, with packs and price breaks: the offer's side of `solve/price.ts`. */
import { type Bought, cheapest } from '../solve/price.js';
import type { Purchase } from '../solve/problem.js';
import type { Offer } from '../terms.js';

export type { Bought };

/** Most pieces of an offer that can be used: whole packs only; null: any number. */
export function supplyOf(offer: Offer): number | null {
  return offer.available === null ? null : Math.floor(offer.available / offer.pack) * offer.pack;
}

export function purchaseOf({ pack, price, breaks }: Offer): Purchase {
  return { pack, tiers: [{ from: 1, price }, ...breaks] };
}

/** The cheapest purchase that holds `count` pieces, no more than `limit` (null: any number). Throws RangeError beyond it. */
export function purchase(offer: Offer, count: number, limit: number | null = supplyOf(offer)): Bought {
  const bought = cheapest(purchaseOf(offer), limit ?? Infinity, count);
  if (bought === null) throw new RangeError(`${offer.id}: ${count} pieces wanted, ${limit} available`);
  return bought;
}
