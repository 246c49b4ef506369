/** Shown with every plan that has cuts. The saw's manual and local rules decide; these are reminders. */

import { formatLength } from '../lengths/format.js';
import type { Batch } from '../terms.js';
import { paragraph } from '../text/page.js';

/** Common practice, no source: 6 in (150 mm) between hand and blade. */
const HAND_DISTANCE = { in: '6 in', mm: '150 mm' } as const;

/** In the order they are shown. `star`: short rails are marked with one where sticks are listed. */
export function cautions(batch: Batch, clamps: boolean, star = true): readonly string[] {
  const below = formatLength(batch.saw.clampBelow, batch.units);
  const marked = star ? '* or CLAMP' : 'CLAMP';
  return [
    "The saw's manual and your local rules come before anything printed here.",
    'Unplug the saw while you set it up, set the stop, or clear it.',
    `Keep hands well away from the blade: ${HAND_DISTANCE[batch.units]} at the least, more where local rules ask for it.`,
    clamps
      ? `Rails marked ${marked} are under ${below}: hold them in a clamp or a jig. If one is too short to clamp, do not cut it from a loose piece.`
      : 'Clamp or jig a piece too short to hold that far from the blade. If it is too short to clamp, do not cut it loose.',
    'Support the stick along its whole length. Let the blade stop before you lift it or clear an offcut.',
    'Wear eye, ear and dust protection.',
  ];
}

export function cautionLines(batch: Batch, clamps: boolean): readonly string[] {
  const lines = cautions(batch, clamps).flatMap((caution) => paragraph(`- ${caution}`, 2, 4));
  return ['At the saw', ...lines];
}
