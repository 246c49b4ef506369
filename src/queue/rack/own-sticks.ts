/** Sticks the rack never had, of a batch's own list: what they leave may enter it. */
import { umFromMm } from '../../lengths/units.js';
import { type CutFrom, type CutStickOf, offcutsOf } from '../../rack/cutting.js';
import { offcutId } from '../../rack/names.js';
import type { RackStore } from '../../rack/store/rack-store.js';
import type { RackPiece } from '../../rack/terms.js';
import { type Batch, RAW_ENDS } from '../../terms.js';

export interface OwnCutting {
  readonly batch: Batch;
  /** Done, the first offcut of each numbered. */
  readonly sticks: readonly (CutStickOf & { readonly ref: string })[];
  readonly place: string | null;
  readonly recut: boolean;
  /** Ids the rack has had. */
  readonly taken: ReadonlySet<string>;
}

export interface OwnOffcuts {
  readonly offcuts: readonly RackPiece[];
  /** Ids of offcuts that an earlier telling entered. */
  readonly entered: readonly string[];
}

/** What is told twice enters the rack once: an offcut is known by its batch and its stick. */
export async function ownOffcuts(rack: RackStore, cutting: OwnCutting): Promise<OwnOffcuts> {
  const { batch, sticks, recut } = cutting;
  const names = sticks.flatMap((stick) =>
    stick.left
      .filter(({ use }) => use === 'offcut')
      .map((_, i) => ({ id: offcutId(batch.id, stick.offcut + i, recut), of: stick.stick })),
  );
  const there = await rack.pieces(names.map(({ id }) => id));
  const known = new Map(there.map(({ piece }) => [piece.id, piece.from]));
  const entered = names.filter(({ id, of }) => {
    const from = known.get(id);
    return from?.kind === 'offcut' && from.batch === batch.id && from.of === of;
  });
  const told = new Set(entered.map(({ of }) => of));
  const taken = new Set(cutting.taken);
  const offcuts: RackPiece[] = [];
  for (const stick of sticks) {
    if (told.has(stick.stick)) continue;
    for (const offcut of offcutsOf({ ...cutting, taken }, stick, parentOf(batch, stick))) {
      taken.add(offcut.id);
      offcuts.push(offcut);
    }
  }
  return { offcuts, entered: entered.map(({ id }) => id) };
}

function parentOf(batch: Batch, { stick, ref, length }: OwnCutting['sticks'][number]): CutFrom {
  const own = batch.sticks.find(({ id }) => id === ref);
  return { id: stick, length: umFromMm(length), ends: own?.ends ?? RAW_ENDS, flaws: own?.flaws ?? [] };
}
