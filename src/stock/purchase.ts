/** What n pieces of an offer cost, with packs and price breaks. */
import type { Cents, Offer } from '../terms.js';

export interface Bought {
  /** Pieces paid for: n, or more where a full pack or a price break asks for it or makes it cheaper. */
  readonly count: number;
  readonly cost: Cents;
}

function upToPack(count: number, pack: number): number {
  return Math.ceil(count / pack) * pack;
}

/** Most pieces of an offer that can be used: whole packs only; null: any number. */
export function supplyOf(offer: Offer): number | null {
  return offer.available === null ? null : Math.floor(offer.available / offer.pack) * offer.pack;
}

function pricePiece(offer: Offer, count: number): Cents {
  let price = offer.price;
  for (const tier of offer.breaks) if (tier.from <= count) price = tier.price;
  return price;
}

/** The cheapest purchase that holds `count` pieces; among equals the smallest. `limit` lifts `available` when null. */
export function purchase(offer: Offer, count: number, limit: number | null = supplyOf(offer)): Bought {
  if (count === 0) return { count: 0, cost: 0 };
  const amounts = [count, ...offer.breaks.map((tier) => Math.max(tier.from, count))]
    .map((amount) => upToPack(amount, offer.pack))
    .filter((amount) => limit === null || amount <= limit);
  const bought = amounts.map((amount) => ({ count: amount, cost: amount * pricePiece(offer, amount) }));
  return bought.reduce((best, next) => {
    if (next.cost !== best.cost) return next.cost < best.cost ? next : best;
    return next.count < best.count ? next : best;
  });
}
