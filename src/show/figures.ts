/** Figures of a moulding's plan in words: how much handling it takes, and what merging stops saves and costs. */

import type {
  HandlingFigures,
  MergingFigures,
  MouldingPlan,
  Plan,
  WayOfCutting,
} from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import { money, paragraph, plural } from '../text/page.js';
import type { Words } from '../words/words.js';

/** `9 stick visits, 4 layouts, 1 split pair`; empty where a plan has no figures. */
export function handlingText(handling: HandlingFigures | undefined): string {
  if (handling === undefined) return '';
  const { visits, layouts, splitPairs } = handling;
  const split = splitPairs === 0 ? 'no split pair' : plural(splitPairs, 'split pair');
  return `${plural(visits, 'stick visit')}, ${plural(layouts, 'layout')}, ${split}`;
}

function wayText(words: Words, { moulding, proof }: MouldingPlan, way: WayOfCutting): string {
  const spent =
    proof.measure === 'cost'
      ? words.costs.spent(moulding, way.cost)
      : `rack used ${words.long(umFromMm(way.stockLength))}`;
  return `${plural(way.stopSettings, 'stop setting')}, ${plural(way.sticks, 'stick')}, ${spent}`;
}

function fewest({ merged, leastSettings }: MergingFigures): string {
  if (merged.stopSettings <= leastSettings) return 'No fewer settings serve every rail within its play.';
  return `No fewer than ${plural(leastSettings, 'setting')} could serve every rail within its play.`;
}

/** Figures with and without merging, where stops were merged. */
export function mergingLines(words: Words, part: MouldingPlan): readonly string[] {
  const { merging } = part;
  if (merging === undefined || merging.choices === 0) return [];
  const { unmerged, merged } = merging;
  const ways = `Stops merged: ${wayText(words, part, merged)}; without merging ${wayText(words, part, unmerged)}.`;
  return paragraph(`${ways} ${fewest(merging)}`, 0, 2);
}

/** The same for the sums of all mouldings. */
export function unmergedText(words: Words, { totals, mouldings }: Plan): string {
  const { unmerged } = totals;
  if (unmerged === undefined) return '';
  // Where length stands in for money, a sum of both means nothing.
  const priced = mouldings.every(({ moulding }) => words.costs.pricing(moulding) !== 'unpriced');
  const cost = priced ? `, cost ${money(unmerged.cost)}` : '';
  return ` Without merging stops: ${plural(unmerged.stopSettings, 'stop setting')}${cost}.`;
}
