/** A batch planned from the shop's rack: the pieces listed in the plan count as the batch's own. */
import type { Plan } from '../../documents/plan/types.js';
import { umFromMm } from '../../lengths/units.js';
import type { Batch, RackEntry } from '../../terms.js';

/** Leaves out pieces whose moulding has sticks of its own in the batch, and pieces whose id another stick has. */
export function withShopRack(batch: Batch, { rack = [] }: Pick<Plan, 'rack'>): Batch {
  if (batch.rack === null || rack.length === 0) return batch;
  const named = new Set([...batch.sticks, ...batch.offers].map(({ id }) => id));
  const own = new Set(batch.sticks.map(({ moulding }) => moulding));
  const pieces: RackEntry[] = [];
  for (const { id, moulding, length, ends, flaws } of rack) {
    if (named.has(id) || own.has(moulding)) continue;
    named.add(id);
    pieces.push({
      id,
      moulding,
      length: umFromMm(length),
      quantity: 1,
      ends,
      flaws: flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)]),
      value: null,
    });
  }
  return { ...batch, sticks: [...batch.sticks, ...pieces] };
}
