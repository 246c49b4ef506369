/** Which rail is cut in which place, of places that are as good as each other. */
import type { Stock } from '../solve/problem.js';
import { groupedBy } from '../stock/grouped.js';
import type { CutItem, Source } from '../stock/task.js';
import type { Offer } from '../terms.js';
import type { RailUnit } from './units.js';

/** A piece that can still be taken: a stick of the plan, or a number of equal pieces on which nothing was planned. */
export type FreePiece =
  | { readonly kind: 'stick'; readonly stick: number }
  | {
      readonly kind: 'spare' | 'offer';
      readonly source: Source;
      /** Copy numbers to give them, in order. */
      readonly copies: readonly number[] | null;
      readonly offer: Offer | null;
    };

/** Units side by side on one lane of one piece. */
export interface PlacedUnit {
  readonly unit: RailUnit;
  readonly piece: FreePiece;
  /** Which of the spares or new ones, from 0; 0 for a stick of the plan. */
  readonly number: number;
  readonly lane: number;
}

export interface PieceStock {
  readonly piece: FreePiece;
  /** Its place among all that can be taken. */
  readonly at?: number;
  readonly stock: Stock;
}

/** Units that are placed as one, side by side. */
export interface PlacedTogether {
  readonly parts: readonly RailUnit[];
  readonly item: CutItem;
  readonly frame: string;
  /** The stick most of them are on. */
  readonly home: number;
}

export interface Slot {
  readonly row: PieceStock;
  readonly number: number;
  readonly lane: number;
}

/** So many of the units, of as few frames in part as may be: whole frames first. */
function wholeFrames(units: readonly PlacedTogether[], count: number): readonly PlacedTogether[] {
  if (units.length <= count) return units;
  const taken: PlacedTogether[] = [];
  const frames = [...groupedBy(units, ({ frame }) => frame).values()].sort((a, b) => b.length - a.length);
  const rest = frames.filter((own) => {
    if (taken.length + own.length > count) return true;
    taken.push(...own);
    return false;
  });
  return [...taken, ...rest.flat().slice(0, count - taken.length)];
}

/**
 * Hands out the units of an item. Units that were planned on a stick stay there as far as it has places, so that the
 * fewest rails move; then rails of one frame go to one stick, so that they tie few sticks together.
 */
export function handOut(slots: readonly Slot[], units: readonly PlacedTogether[]): readonly PlacedUnit[] {
  const pieces = [...groupedBy(slots, ({ row, number }) => `${row.at} ${number}`).values()];
  const homes = groupedBy(units, ({ home }) => home);
  const free = new Set(units);
  const take = (one: PlacedTogether): void => {
    free.delete(one);
  };
  const given = pieces.map((own) => {
    const { piece } = own[0]!.row;
    const stay = piece.kind === 'stick' ? wholeFrames(homes.get(piece.stick) ?? [], own.length) : [];
    stay.forEach(take);
    return [...stay];
  });
  pieces.forEach((own, p) => {
    const here = given[p]!;
    const left = (): number => own.length - here.length;
    if (left() === 0) return;
    const frames = new Set(here.map(({ frame }) => frame));
    const begun = [...free].filter(({ frame }) => frames.has(frame)).slice(0, left());
    begun.forEach(take);
    here.push(...begun);
    const rest = wholeFrames([...free], left());
    rest.forEach(take);
    here.push(...rest);
  });
  return pieces.flatMap((own, p) => {
    const here = given[p]!;
    if (here.length < own.length) throw new RangeError('more places than rails');
    return own.flatMap(({ row, number, lane }, k) =>
      here[k]!.parts.map((unit): PlacedUnit => ({ unit, piece: row.piece, number, lane })),
    );
  });
}
