/** The sides of a moulding's frames with their ranges, and the way back from chosen settings to order lines. */

import { orderedSides } from '../rails/rails.js';
import { rangesOf } from '../rails/ranges.js';
import type { Batch, Moulding, Um } from '../terms.js';
import type { Ring, Side } from './choices.js';

export interface Sides {
  /** The sizes of each order line, line after line, as `railsOf` lists them. */
  readonly sides: readonly Side[];
  readonly rings: readonly Ring[];
  /** Index of the first side of each line. */
  readonly first: ReadonlyMap<number, number>;
}

/** `lines` are indices of order lines, `copies` how many frames of each are made. */
export function sidesOfLines(
  batch: Batch,
  moulding: Moulding,
  lines: readonly number[],
  copies: readonly number[],
): Sides {
  const sides: Side[] = [];
  const rings: Ring[] = [];
  const first = new Map<number, number>();
  lines.forEach((index, i) => {
    const line = batch.frames[index]!;
    const begin = sides.length;
    first.set(index, begin);
    const ordered = orderedSides(line);
    rangesOf(batch, index, moulding).forEach((range, s) => {
      sides.push({ ...range, weight: (copies[i] ?? 0) * ordered[s]!.sides.length });
    });
    if (line.match !== 'frame' || ordered.length !== 2) return;
    const [one, other] = [sides[begin]!.low, sides[begin + 1]!.low];
    // Equal settings are cut at the same point, so they stay equal: one stop.
    if (one !== other) rings.push(one > other ? [begin, begin + 1] : [begin + 1, begin]);
  });
  return { sides, rings, first };
}

/** Settings of `sides` by line, as the stock stage takes them. */
export function byLine({ first, sides }: Sides, lengths: readonly Um[]): ReadonlyMap<number, readonly Um[]> {
  const begins = [...first];
  return new Map(
    begins.map(([line, begin], i) => [line, lengths.slice(begin, begins[i + 1]?.[1] ?? sides.length)]),
  );
}
