/** Figures of a moulding's plan in words: what is to be handled, and what merging stops saves and costs. */

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

function wayText(words: Words, way: WayOfCutting, measure: MouldingPlan['proof']['measure']): string {
  const spent =
    measure === 'cost' ? `cost ${money(way.cost)}` : `rack used ${words.long(umFromMm(way.stockLength))}`;
  return `${plural(way.stopSettings, 'stop setting')}, ${plural(way.sticks, 'stick')}, ${spent}`;
}

function fewest({ merged, leastSettings }: MergingFigures): string {
  if (merged.stopSettings <= leastSettings) return 'No fewer settings serve every rail within its play.';
  return `No fewer than ${plural(leastSettings, 'setting')} could serve every rail within its play.`;
}

/** Both ways, where stops were merged. */
export function mergingLines(words: Words, part: MouldingPlan): readonly string[] {
  const { merging, proof } = part;
  if (merging === undefined || merging.choices === 0) return [];
  const { unmerged, merged } = merging;
  const ways = `Stops merged: ${wayText(words, merged, proof.measure)}; without merging ${wayText(words, unmerged, proof.measure)}.`;
  return paragraph(`${ways} ${fewest(merging)}`, 0, 2);
}

/** For the sums of all mouldings. */
export function unmergedText({ totals }: Plan): string {
  const { unmerged } = totals;
  if (unmerged === undefined) return '';
  return ` Without merging stops: ${plural(unmerged.stopSettings, 'stop setting')}, cost ${money(unmerged.cost)}.`;
}
