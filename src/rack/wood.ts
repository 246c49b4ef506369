/** The wood of rails: long point to long point; along the middle where a rail shares its cut with a flipped neighbour. */
import type { PlacedRail } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import { bladeUm, reachUm } from '../rails/mitre.js';
import type { Batch, Moulding, Um } from '../terms.js';

const ROUNDING = 3;

/** Wood of each rail of a stick: whole micrometres, however many of its neighbours are cut already. */
export function woodOf(
  batch: Batch,
  moulding: Moulding,
  rails: readonly PlacedRail[],
): ReadonlyMap<PlacedRail, Um> {
  const standing = rails.toSorted((a, b) => a.start - b.start);
  const shares = (left: PlacedRail | undefined, right: PlacedRail | undefined): boolean => {
    if (left === undefined || right === undefined) return false;
    if (!moulding.reversible || left.flipped === right.flipped || left.angle !== right.angle) return false;
    const sides = Math.round(180 / left.angle);
    const gap = umFromMm(right.start) - umFromMm(left.start + left.length);
    return gap <= bladeUm(batch.saw.kerf, sides) - reachUm(moulding.face, sides).down + ROUNDING;
  };
  return new Map(
    standing.map((rail, i) => {
      const nests = shares(standing[i - 1], rail) || shares(rail, standing[i + 1]);
      const lean = nests ? reachUm(moulding.face, Math.round(180 / rail.angle)).down : 0;
      return [rail, umFromMm(rail.length) - lean];
    }),
  );
}
