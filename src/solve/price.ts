import type { Purchase } from './problem.js';

export interface Bought {
  /** Pieces paid for: n, or more where a full pack or a price break asks for it or makes it cheaper. */
  readonly count: number;
  readonly cost: number;
}

/** The cheapest purchase of at most `supply` pieces that holds n; among equals the smallest. Null when there is none. */
export function cheapest({ pack, tiers }: Purchase, supply: number, n: number): Bought | null {
  if (n === 0) return { count: 0, cost: 0 };
  let best: Bought | null = null;
  // Within a tier the cost grows with the number, so only the least number in each can be the cheapest.
  for (const { from } of tiers) {
    const count = Math.ceil(Math.max(from, n) / pack) * pack;
    if (count > supply) continue;
    const price = tiers.reduce((now, tier) => (tier.from <= count ? tier.price : now), 0);
    const cost = count * price;
    if (best === null || cost < best.cost || (cost === best.cost && count < best.count))
      best = { count, cost };
  }
  return best;
}

/** What n used pieces cost to buy; Infinity when they cannot be bought. */
export function purchaseCost(purchase: Purchase, supply: number, n: number): number {
  return cheapest(purchase, supply, n)?.cost ?? Infinity;
}
