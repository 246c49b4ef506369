/**
 * An offcut as a piece of its own. A plan's `left` is clear wood, without the end trim; the piece has that end still on
 * it, and loses the trim only when it is cut.
 */
import type { PieceEnd, PieceEnds, RackEntry, Um } from '../terms.js';

/** The stick it is cut from. */
export interface ParentPiece {
  readonly length: Um;
  readonly ends: PieceEnds;
  readonly flaws: RackEntry['flaws'];
}

interface CutSpan {
  readonly from: Um;
  readonly to: Um;
}

export interface OffcutSpan extends CutSpan {
  readonly ends: readonly [PieceEnd, PieceEnd];
}

/**
 * From `from` to `to` is what a tape measures along the outside edge: out to the end of the stick where no rail is cut
 * (`rails`: every long edge on the stick, lost ones too), to the flaw where one parts it from its neighbours.
 */
export function offcutSpan(parent: ParentPiece, rails: readonly CutSpan[], left: CutSpan): OffcutSpan {
  const { from, to } = left;
  const { flaws, length, ends } = parent;
  const before = rails.filter((rail) => rail.from < from);
  const after = rails.filter((rail) => rail.from >= to);
  const flawBefore = flaws.findLast((flaw) => flaw[1] <= from);
  const flawAfter = flaws.find((flaw) => flaw[0] >= to);
  const lastCut = before.reduce((most, rail) => Math.max(most, rail.to), -1);
  const nextCut = after.reduce((least, rail) => Math.min(least, rail.from), Number.POSITIVE_INFINITY);
  const sawnLeft = flawBefore !== undefined && flawBefore[1] > lastCut;
  const sawnRight = flawAfter !== undefined && flawAfter[0] < nextCut;
  const whole = { left: before.length === 0 && !sawnLeft, right: after.length === 0 && !sawnRight };
  return {
    from: whole.left ? 0 : from,
    // The stick may be another length than it was planned with.
    to: whole.right ? length : Math.min(to, length),
    ends: [
      whole.left ? ends[0] : sawnLeft ? 'sawn' : 'mitred',
      whole.right ? ends[1] : sawnRight ? 'sawn' : 'mitred',
    ],
  };
}
