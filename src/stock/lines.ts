/** A batch sorted by moulding, once: a batch may hold 100,000 lines over as many mouldings. Every line, cuttable or not. */

import type { Batch, Moulding, Offer, RackEntry } from '../terms.js';
import { groupedBy } from './grouped.js';

export interface Order {
  readonly moulding: Moulding;
  /** Its place in `Batch.mouldings`. */
  readonly index: number;
  /** Indices in `Batch.frames`, in the order given. */
  readonly lines: readonly number[];
  readonly rack: readonly RackEntry[];
  readonly offers: readonly Offer[];
}

/** Every order by moulding id, in the order of the batch's mouldings. */
export function sortOrders(batch: Batch): ReadonlyMap<string, Order> {
  const lines = groupedBy(batch.frames.keys(), (i) => batch.frames[i]!.moulding);
  const rack = groupedBy(batch.sticks, (entry) => entry.moulding);
  const offers = groupedBy(batch.offers, (offer) => offer.moulding);
  return new Map(
    batch.mouldings.map((moulding, index) => [
      moulding.id,
      {
        moulding,
        index,
        lines: lines.get(moulding.id) ?? [],
        rack: rack.get(moulding.id) ?? [],
        offers: offers.get(moulding.id) ?? [],
      },
    ]),
  );
}
