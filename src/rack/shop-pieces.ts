/** Pieces of the shop's rack on their way into a batch, and out of its plan. */
import * as z from 'zod';
import type { Plan, ShopPiece } from '../documents/plan/types.js';
import { mmFromUm, umFromMm } from '../lengths/units.js';
import type { Batch, RackEntry } from '../terms.js';
import { pieceSchema } from './events.js';
import type { ExpectedLine, RackPiece } from './terms.js';

/** A piece that is free for a moulding's plan. */
export interface OfferedPiece {
  readonly piece: RackPiece;
  /** Id of the hold it is reserved for, where a quote has kept it for this very order. */
  readonly held?: string | undefined;
  /** Journal entry that describes it: another one by the time the plan is there is another piece. */
  readonly revision: string;
}

const offeredSchema: z.ZodType<readonly OfferedPiece[]> = z.array(
  z.strictObject({ piece: pieceSchema, revision: z.string(), held: z.string().optional() }),
);

export function offeredText(pieces: readonly OfferedPiece[]): string {
  return JSON.stringify(pieces.map(({ piece, revision, held }) => ({ piece, revision, held })));
}

/** Null for what is no such list. */
export function offeredFrom(text: string): readonly OfferedPiece[] | null {
  try {
    return offeredSchema.safeParse(JSON.parse(text)).data ?? null;
  } catch {
    return null;
  }
}

function entryOf({ id, moulding, length, ends, flaws, value }: RackPiece): RackEntry {
  return { id, moulding, length, quantity: 1, flaws, ends, value };
}

/** Mouldings of the batch that are planned from the shop's rack. */
export function shopMouldings(batch: Batch): readonly string[] {
  if (batch.rack === null) return [];
  const own = new Set(batch.sticks.map(({ moulding }) => moulding));
  return batch.mouldings.flatMap(({ id }) => (own.has(id) ? [] : [id]));
}

function withEntries(batch: Batch, entries: readonly RackEntry[]): Batch {
  const shop = new Set(shopMouldings(batch));
  // A stick of a plan is known by one id, so a piece that is called like an offer cannot be planned with.
  const taken = new Set([...batch.sticks, ...batch.offers].map(({ id }) => id));
  const more = entries.filter(({ id, moulding }) => shop.has(moulding) && !taken.has(id));
  return more.length === 0 ? batch : { ...batch, sticks: [...batch.sticks, ...more] };
}

/** The batch with these pieces as its own, where it is planned from the shop's rack. */
export function withShopPieces(batch: Batch, pieces: readonly RackPiece[]): Batch {
  return withEntries(batch, pieces.map(entryOf));
}

function planEntries({ rack }: Pick<Plan, 'rack'>): readonly RackEntry[] {
  return (rack ?? []).map(
    ({ id, moulding, length, ends, flaws, value }): RackEntry => ({
      id,
      moulding,
      length: umFromMm(length),
      quantity: 1,
      ends,
      flaws: flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)] as const),
      value: value === null ? null : Math.round(value * 100),
    }),
  );
}

/** The batch with the pieces its plan was made from. */
export function withPlanRack(batch: Batch, plan: Pick<Plan, 'rack'>): Batch {
  return withEntries(batch, planEntries(plan));
}

/** The same, and with others that may be drawn on after a mishap. */
export function withMorePieces(batch: Batch, plan: Pick<Plan, 'rack'>, more: readonly RackPiece[]): Batch {
  const entries = planEntries(plan);
  const known = new Set(entries.map(({ id }) => id));
  return withEntries(batch, [...entries, ...more.filter(({ id }) => !known.has(id)).map(entryOf)]);
}

/** Pieces a plan cuts, in its order. */
export function piecesIn(plan: Plan, pieces: readonly RackPiece[]): readonly RackPiece[] {
  const known = new Map(pieces.map((piece) => [piece.id, piece]));
  return plan.mouldings.flatMap(({ sticks, moulding }) =>
    sticks.flatMap(({ source, ref }) => {
      const piece = source === 'rack' ? known.get(ref) : undefined;
      return piece?.moulding === moulding ? [piece] : [];
    }),
  );
}

/** As the plan states a piece. */
export function shopPiece({ id, moulding, length, ends, flaws, value }: RackPiece): ShopPiece {
  return {
    id,
    moulding,
    length: mmFromUm(length),
    ends,
    flaws: flaws.map(([from, to]) => [mmFromUm(from), mmFromUm(to)] as const),
    value: value === null ? null : value / 100,
  };
}

/** What a plan buys, as it is expected. */
export function expectedOf(batch: Batch, { buy }: Pick<Plan, 'buy'>): readonly ExpectedLine[] {
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  return buy.flatMap(({ offer: id, moulding, count }) => {
    const offer = offers.get(id);
    return offer === undefined ? [] : [{ batch: batch.id, offer: id, moulding, length: offer.length, count }];
  });
}
