import type { Batch } from '../terms.js';
import type { Order } from './lines.js';

/** The batch as if it had been ordered without the other mouldings. */
export function narrowed(batch: Batch, ids: ReadonlySet<string>): Batch {
  const of = <T extends { readonly moulding: string }>(lines: readonly T[]): T[] =>
    lines.filter(({ moulding }) => ids.has(moulding));
  return {
    ...batch,
    mouldings: batch.mouldings.filter(({ id }) => ids.has(id)),
    frames: of(batch.frames),
    sticks: of(batch.sticks),
    offers: of(batch.offers),
  };
}

/** As `narrowed`, to the moulding of one order, in time proportional to its own lines. */
export function narrowedTo(batch: Batch, { moulding, lines, rack, offers }: Order): Batch {
  const frames = lines.map((line) => batch.frames[line]!);
  return { ...batch, mouldings: [moulding], frames, sticks: rack, offers };
}
