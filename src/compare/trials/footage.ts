/** The rule of thumb that shops buy by, beside what this order really takes. */

import type { Footage } from '../../documents/comparison/types.js';
import { toNumber } from '../../lengths/exact.js';
import { mmFromUm } from '../../lengths/units.js';
import { mitreTan } from '../../rails/mitre.js';
import { orderedSides, sidesOf } from '../../rails/rails.js';
import type { Batch, FrameLine, Moulding, Offer, Um } from '../../terms.js';
import type { Tried } from './scenarios.js';

/** Added for waste: common practice, no source. */
const WASTE_SHARE = 0.15;

/**
 * One frame by the rule: 2(w+h) + 8·face for a rectangle measured by its glass, and likewise n·(side + 2·face·tan θ)
 * for n sides; nothing is added to an outside size.
 */
export function ruleOfThumb(line: FrameLine, { face }: Moulding): Um {
  const n = sidesOf(line);
  const around = orderedSides(line).reduce((sum, { size, sides }) => sum + toNumber(size) * sides.length, 0);
  return around + (line.measuredBy === 'outside' ? 0 : 2 * n * toNumber(face) * mitreTan(n));
}

export function footageOf(
  batch: Batch,
  moulding: Moulding,
  offers: readonly Offer[],
  planned: Um,
  cheapestAlone: Tried | null,
): Footage {
  const net = batch.frames
    .filter((line) => line.moulding === moulding.id)
    .reduce((sum, line) => sum + line.quantity * ruleOfThumb(line, moulding), 0);
  const length = net * (1 + WASTE_SHARE);
  const offer = offers.find(({ id }) => id === cheapestAlone?.offers[0]);
  const alone = cheapestAlone?.plan ?? null;
  return {
    net: mmFromUm(Math.round(net)),
    wasteShare: WASTE_SHARE,
    length: mmFromUm(Math.round(length)),
    planned: mmFromUm(planned),
    off: planned === 0 ? null : Number((length / planned - 1).toFixed(4)),
    sticks:
      offer === undefined || alone === null
        ? null
        : {
            offer: offer.id,
            rule: Math.ceil(length / offer.length),
            planned: alone.figures?.sticks ?? 0,
          },
  };
}
