/**
 * Clear spans of a stick: between the end trims, without the flaws. One that ends at a flaw needs no trim there. Across
 * a flaw narrower than the blade two rails would meet: the lane behind it begins one joint after the one before it.
 */
import type { Moulding, RackEntry, Um } from '../terms.js';
import type { Lane, Spacing } from './task.js';

export function clearSpans(length: Um, moulding: Moulding, flaws: RackEntry['flaws']): readonly Lane[] {
  const spans: Lane[] = [];
  const end = length - moulding.endTrim;
  let from = moulding.endTrim;
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
