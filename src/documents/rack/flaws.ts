/** Spans of a piece that no rail may touch. */
import type { Um } from '../../terms.js';

/** Flaws in order, those that touch as one, none beyond the piece. */
export function joined(flaws: readonly (readonly [Um, Um])[], length: Um): readonly (readonly [Um, Um])[] {
  const merged: [Um, Um][] = [];
  for (const [from, to] of flaws.toSorted((a, b) => a[0] - b[0])) {
    const end = Math.min(to, length);
    const last = merged.at(-1);
    if (from >= end) continue;
    if (last !== undefined && from <= last[1]) last[1] = Math.max(last[1], end);
    else merged.push([from, end]);
  }
  return merged;
}
