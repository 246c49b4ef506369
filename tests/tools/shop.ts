/** Batches planned from the shop's rack, and what must hold of all their plans together. */
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { RackPiece } from '../../src/rack/terms.js';
import { rackPiece } from './rack.js';

const MM = 1_000;

export interface ShopBatchOptions {
  readonly frames?: number;
  readonly timeLimit?: number;
  readonly offers?: boolean;
}

/** Frames that each take some 1.5 m of each moulding, from the rack first. */
export function shopBatch(
  id: string,
  mouldings: readonly string[],
  { frames = 1, timeLimit = 20, offers = true }: ShopBatchOptions = {},
): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id,
    units: 'mm',
    rack: 'shop',
    saw: { kerf: 3, recut: 1 },
    mouldings: mouldings.map((moulding) => ({
      id: moulding,
      face: 30,
      rabbet: 6,
      endTrim: 10,
      keepOver: 250,
    })),
    frames: mouldings.map((moulding) => ({
      id: moulding,
      moulding,
      quantity: frames,
      width: 300,
      height: 400,
    })),
    offers: offers
      ? mouldings.map((moulding) => ({ id: `${moulding}-24`, moulding, length: 2400, price: 20 }))
      : [],
    options: { timeLimit },
  };
}

/** `count` pieces of a moulding, long enough for a frame each. */
export function shopPieces(moulding: string, count: number, length = 1_750): RackPiece[] {
  return Array.from({ length: count }, (_, i) => rackPiece(`${moulding}-${i + 1}`, moulding, length * MM));
}

/** Rack pieces by the batch that cuts them; throws for one that two plans cut. */
export function takenBy(plans: readonly Plan[]): ReadonlyMap<string, string> {
  const by = new Map<string, string>();
  for (const plan of plans) {
    const refs = plan.mouldings.flatMap(({ sticks }) =>
      sticks.flatMap(({ source, ref }) => (source === 'rack' ? [ref] : [])),
    );
    for (const ref of refs) {
      const other = by.get(ref);
      if (other !== undefined) throw new Error(`${ref} is cut by ${other} and by ${plan.batch}`);
      by.set(ref, plan.batch);
    }
  }
  return by;
}
