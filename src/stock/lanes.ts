/** Clear spans of a stick: between the end trims, without the flaws. A lane that ends at a flaw needs no trim there. */
import type { Moulding, RackEntry, Um } from '../terms.js';
import type { Lane } from './task.js';

export function lanesOf(length: Um, moulding: Moulding, flaws: RackEntry['flaws']): readonly Lane[] {
  const lanes: Lane[] = [];
  const end = length - moulding.endTrim;
  let from = moulding.endTrim;
  for (const [begin, finish] of flaws) {
    if (begin > from) lanes.push({ from, to: Math.min(begin, end) });
    from = Math.max(from, finish);
  }
  if (end > from) lanes.push({ from, to: end });
  return lanes.filter((lane) => lane.to > lane.from);
}
