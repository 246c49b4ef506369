/** A batch planned from the shop's rack: the pieces listed in the plan count as the batch's own. */
import type { Plan, ShopPiece } from '../../documents/plan/types.js';
import { umFromMm } from '../../lengths/units.js';
import type { Batch, RackEntry } from '../../terms.js';

/** A piece that a document lists with its lengths in millimetres, as an entry of the batch's own. */
export function entryOf({ id, moulding, length, ends, flaws }: Omit<ShopPiece, 'value'>): RackEntry {
  return {
    id,
    moulding,
    length: umFromMm(length),
    quantity: 1,
    ends,
    flaws: flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)]),
    value: null,
  };
}

/** Leaves out pieces whose moulding has sticks of its own in the batch, and pieces whose id another stick has. */
export function withShopRack(batch: Batch, { rack = [] }: Pick<Plan, 'rack'>): Batch {
  if (batch.rack === null || rack.length === 0) return batch;
  const named = new Set([...batch.sticks, ...batch.offers].map(({ id }) => id));
  const own = new Set(batch.sticks.map(({ moulding }) => moulding));
  const pieces: RackEntry[] = [];
  for (const piece of rack) {
    const { id, moulding } = piece;
    if (named.has(id) || own.has(moulding)) continue;
    named.add(id);
    pieces.push(entryOf(piece));
  }
  return { ...batch, sticks: [...batch.sticks, ...pieces] };
}
