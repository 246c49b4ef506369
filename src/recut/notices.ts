/** The notices of a recut. */
import { lineOfFrame } from '../documents/ids.js';
import type { RecutMoulding } from '../documents/recut/types.js';
import type { WorkInHand } from '../documents/recut/work.js';
import { type Notice, notice } from '../notices.js';
import type { Batch } from '../terms.js';
import { lineNames } from './state.js';
import type { RailUnit, SortedUnits } from './units.js';

export function brokenNotices(batch: Batch, { broken }: SortedUnits): readonly Notice[] {
  const lines = lineNames(batch);
  return broken.map(({ frame, lost }) => {
    const line = lines.get(lineOfFrame(frame))!;
    const path = `frames[${batch.frames.indexOf(line)}].match`;
    const what =
      line.match === 'frame'
        ? 'grain and finish cannot run around its corners'
        : 'it cannot lie beside the rail it faces';
    const message = `${frame}: ${lost.join(', ')} is cut from other wood than the rails already cut, so ${what}; match "${line.match}" cannot be kept. If it must match, name the whole ${line.match === 'frame' ? 'frame' : 'pair'} as lost`;
    return notice('PS_MATCH_BROKEN', path, message);
  });
}

/** `again`: rails that are lost, or that a flaw leaves no place for. */
export function alongNotices(groups: readonly RailUnit[], again: ReadonlySet<string>): readonly Notice[] {
  return groups.flatMap(({ rails }) => {
    const others = rails.filter((rail) => !again.has(rail.id)).map((rail) => rail.id);
    if (others.length === 0 || others.length === rails.length) return [];
    const message = `${others.join(', ')}: not cut yet, and matched with a rail that must be cut elsewhere: they are cut together`;
    return [notice('PS_ALONG_WITH', '', message)];
  });
}

/** Where a run has more sticks begun at once than the bench holds. */
export function fullNotice(
  { saw: { bench } }: Batch,
  { moulding, runs = [] }: RecutMoulding,
): readonly Notice[] {
  const over = runs.filter(({ begunMost }) => bench !== null && begunMost > bench);
  if (over.length === 0) return [];
  const told = over
    .map(({ run, begunMost }) => `in run ${run} ${begunMost} sticks lie begun at once`)
    .join(', ');
  const message = `${moulding}: ${told}, where the bench holds ${bench}; they lie begun already, or rails that must be equal tie them together`;
  return [notice('PS_BENCH_FULL', 'saw.bench', message)];
}

export function endedNotice(moulding: string): Notice {
  const message = `${moulding}: the search ended before it was known whether more of the lost rails can be replaced`;
  return notice('PS_SEARCH_ENDED', '', message);
}

export function shortNotice({ unmade }: WorkInHand): readonly Notice[] {
  if (unmade === 0) return [];
  const message = `the plan itself was short: ${unmade} of its frames are not made here either`;
  return [notice('PS_PLAN_SHORT', '', message)];
}
