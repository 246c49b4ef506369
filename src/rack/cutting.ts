/**
 * What was cut, as events: rails leave the rack, offcuts to keep enter it, the rest of a stick that is done is waste.
 * A stick is done when all its rails are cut or spoiled.
 */
import type { PlacedRail, Remainder } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { type OffcutSpan, offcutSpan, type ParentPiece } from '../layout/offcut.js';
import { umFromMm } from '../lengths/units.js';
import type { Batch, Moulding } from '../terms.js';
import type { Happening } from './events.js';
import { another, offcutId } from './names.js';
import { lyingOf, type RackPiece, type Shelved } from './terms.js';
import { woodOf } from './wood.js';

/** A stick of the work, whichever document it is from. */
export interface CutStickOf {
  readonly moulding: string;
  /** `ref/copy`. */
  readonly stick: string;
  /** As it was planned, millimetres. */
  readonly length: number;
  /** Good rails that were cut before, and those to be cut. */
  readonly rails: readonly PlacedRail[];
  /** Where lost rails were. */
  readonly lost: readonly PlacedRail[];
  readonly left: readonly Remainder[];
  /** Number of its first offcut among those of the work, from 1. */
  readonly offcut: number;
}

export interface CuttingTold {
  readonly batch: Batch;
  /** Rails that are cut, those spoiled now among them. */
  readonly cut: ReadonlySet<string>;
  readonly spoiled: ReadonlySet<string>;
  /** Ids the rack has had: offcuts get others. */
  readonly taken: ReadonlySet<string>;
  /** Where offcuts are put; null: nothing is said of it. */
  readonly place: string | null;
  /** The sticks are those of a recut, whose offcuts have names of their own. */
  readonly recut: boolean;
}

function mouldingOf(batch: Batch, id: string): Moulding {
  const found = batch.mouldings.find((moulding) => moulding.id === id);
  if (found === undefined) throw new PairstopError('PS_INTERNAL', `no moulding ${id}`);
  return found;
}

/** What one stick comes to; null where nothing new was cut from it. */
export type CutEvent = Extract<Happening, { kind: 'cut' }>;

/** What was cut, as it really is. */
export interface CutFrom extends ParentPiece {
  readonly id: string;
}

/** An offcut as it lies there, in the piece as it is. */
function spanOf(piece: CutFrom, rails: readonly PlacedRail[], left: Remainder): OffcutSpan {
  const spans = rails.map(({ start, length }) => ({ from: umFromMm(start), to: umFromMm(start + length) }));
  return offcutSpan(piece, spans, { from: umFromMm(left.from), to: umFromMm(left.to) });
}

/** Offcuts to keep of a stick that is done, under names the rack has never had. */
export function offcutsOf(
  told: Pick<CuttingTold, 'batch' | 'place' | 'taken' | 'recut'>,
  stick: CutStickOf,
  piece: CutFrom,
): RackPiece[] {
  const { batch, place, taken, recut } = told;
  const kept = stick.left.filter(({ use }) => use === 'offcut');
  return kept.flatMap((left, i) => {
    const { from, to, ends } = spanOf(piece, [...stick.rails, ...stick.lost], left);
    // A piece that came shorter than planned may leave less than is worth keeping.
    if (to - from < mouldingOf(batch, stick.moulding).keepOver || to <= from) return [];
    let [id, nth] = [offcutId(batch.id, stick.offcut + i, recut), 1];
    while (taken.has(id)) {
      nth += 1;
      id = another(offcutId(batch.id, stick.offcut + i, recut), nth);
    }
    return [
      {
        id,
        moulding: stick.moulding,
        length: to - from,
        ends,
        flaws: [],
        value: null,
        place,
        from: { kind: 'offcut', batch: batch.id, of: piece.id },
      },
    ];
  });
}

/** Rails of the stick that the piece, as it really is, does not hold. */
function misfits({ piece }: Shelved, rails: readonly PlacedRail[]): readonly PlacedRail[] {
  return rails.filter(({ start, length }) => {
    const [from, to] = [umFromMm(start), umFromMm(start + length)];
    return to > piece.length || piece.flaws.some((flaw) => from < flaw[1] && to > flaw[0]);
  });
}

/** Throws PS_RACK where the piece, as the rack has it, cannot have given these rails. */
export function cutEvent(told: CuttingTold, stick: CutStickOf, shelved: Shelved): CutEvent | null {
  const { batch, cut, spoiled } = told;
  const { state, piece } = shelved;
  const knownGood = new Set(state.kind === 'begun' ? state.rails : []);
  const knownBad = new Set(state.kind === 'begun' ? state.spoiled : []);
  // A lost rail may be cut again, also from the same stick: then the loss does not count as having cut it.
  const replaced = new Set(stick.lost.map(({ rail }) => rail));
  const isDone = (rail: string): boolean =>
    knownGood.has(rail) || (!replaced.has(rail) && knownBad.has(rail));
  const lost = stick.lost.filter(({ rail }) => !knownBad.has(rail));
  const fresh = stick.rails.filter(({ rail }) => cut.has(rail) && !isDone(rail));
  if (fresh.length === 0 && lost.length === 0) return null;
  const [misfit] = misfits(shelved, fresh);
  if (misfit !== undefined) {
    throw new PairstopError(
      'PS_RACK',
      `${misfit.rail} does not fit on ${JSON.stringify(piece.id)} as the rack has it; ` +
        'tell it as lost with pairstop recut, or correct the piece with pairstop rack edit',
    );
  }
  const wood = woodOf(batch, mouldingOf(batch, stick.moulding), [...stick.rails, ...stick.lost]);
  const good = fresh.filter(({ rail }) => !spoiled.has(rail));
  const bad = fresh.filter(({ rail }) => spoiled.has(rail));
  const done = stick.rails.every(({ rail }) => cut.has(rail) || isDone(rail));
  const rails = good.reduce((sum, rail) => sum + (wood.get(rail) ?? 0), 0);
  const offcuts = done ? offcutsOf(told, stick, piece) : [];
  const kept = offcuts.reduce((sum, { length }) => sum + length, 0);
  return {
    kind: 'cut',
    batch: batch.id,
    piece: piece.id,
    rails: good.map(({ rail }) => rail),
    spoiled: [...lost, ...bad].map(({ rail }) => rail),
    wood: rails,
    waste: done ? lyingOf(shelved) - rails - kept : 0,
    offcuts,
    done,
  };
}
