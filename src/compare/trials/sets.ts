/** Which offers are tried together: each alone, every pair, those of one supplier, all. */

import type { ScenarioKind } from '../../documents/comparison/types.js';
import type { Offer } from '../../terms.js';

export interface OfferSet {
  readonly kind: ScenarioKind;
  readonly supplier: string | null;
  /** Ids, in the order of the batch. */
  readonly offers: readonly string[];
}

/** Pairs are tried among at most so many offers, those cheapest alone: 276 pairs. */
export const PAIRED_MOST = 24;

export function keyOf(offers: readonly string[]): string {
  return JSON.stringify(offers);
}

export function within(small: readonly string[], large: readonly string[]): boolean {
  return small.every((id) => large.includes(id));
}

export function singles(offers: readonly Offer[]): OfferSet[] {
  return offers.map(({ id }) => ({ kind: 'one', supplier: null, offers: [id] }));
}

/** The offers of each supplier that has some but not all of them; left out where a smaller scenario has the same offers. */
function suppliersOf(offers: readonly Offer[]): OfferSet[] {
  const names = new Set(offers.flatMap(({ supplier }) => (supplier === null ? [] : [supplier])));
  return [...names].flatMap((supplier) => {
    const own = offers.filter((offer) => offer.supplier === supplier).map(({ id }) => id);
    return own.length > 2 && own.length < offers.length
      ? [{ kind: 'supplier' as const, supplier, offers: own }]
      : [];
  });
}

/** `among`: the offers that are paired. */
export function largerSets(offers: readonly Offer[], among: readonly string[]): OfferSet[] {
  const ids = offers.map(({ id }) => id).filter((id) => among.includes(id));
  const pairs =
    offers.length <= 2
      ? []
      : ids.flatMap((a, i) =>
          ids.slice(i + 1).map((b): OfferSet => ({ kind: 'two', supplier: null, offers: [a, b] })),
        );
  return [...pairs, ...suppliersOf(offers)];
}

export function allTogether(offers: readonly Offer[]): OfferSet {
  return { kind: 'all', supplier: null, offers: offers.map(({ id }) => id) };
}
