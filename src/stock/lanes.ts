/**
 * Clear spans of a stick: between the end trims, without the flaws. One that ends at a flaw needs no trim there. Across
 * a flaw narrower than the blade two rails would meet: the lane behind it begins one joint after the one before it.
 */
import { type Moulding, type PieceEnd, type PieceEnds, RAW_ENDS, type RackEntry, type Um } from '../terms.js';
import type { Lane, Spacing } from './task.js';

/** What matters of a stick to the rails on it. */
export interface StickBody {
  readonly length: Um;
  readonly flaws?: RackEntry['flaws'];
  readonly ends?: PieceEnds;
}

/** At a sawn or mitred end the saw only has to get back onto the corner, as at a joint: the recut, or the trim if that is less. */
function trimAt(end: PieceEnd, moulding: Moulding, recut: Um): Um {
  return end === 'raw' ? moulding.endTrim : Math.min(moulding.endTrim, recut);
}

export function clearSpans(stick: StickBody, moulding: Moulding, recut: Um): readonly Lane[] {
  const { length, flaws = [], ends = RAW_ENDS } = stick;
  const spans: Lane[] = [];
  const end = length - trimAt(ends[1], moulding, recut);
  let from = trimAt(ends[0], moulding, recut);
  for (const [begin, finish] of flaws) {
    spans.push({ from, to: Math.min(begin, end) });
    from = Math.max(from, finish);
  }
  spans.push({ from, to: end });
  return spans.filter((span) => span.to > span.from);
}

/** Where rails may stand: as many lanes as there are clear spans. */
export function lanesOf(clear: readonly Lane[], spacing: Spacing): readonly Lane[] {
  const joint = Math.max(...spacing.mitres.map((mitre) => mitre.blade)) + spacing.recut;
  let end = Number.NEGATIVE_INFINITY;
  return clear.map((span) => {
    const from = Math.max(span.from, end + joint);
    end = Math.max(end, span.to);
    return { from, to: Math.max(from, span.to) };
  });
}
