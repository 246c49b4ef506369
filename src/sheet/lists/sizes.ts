/**
 * The sizes of an order line's frames, per side, with t = tan(180°/n) (1 for a rectangle):
 *
 *     rabbet = glass + play·t,  sight = rabbet − 2R·t,  outside = sight + 2F·t
 *
 * Outside, sight and rabbet are those the rails give, glass is what was ordered, a little smaller than the rabbet. Mat and
 * backing are cut to the size of the glass (common practice, no source).
 */
import { toNumber } from '../../lengths/exact.js';
import { UM_PER_INCH } from '../../lengths/units.js';
import { mitreTan } from '../../rails/mitre.js';
import { orderedSides, railsOf, sidesOf } from '../../rails/rails.js';
import type { Batch, FrameLine, Moulding, Um, Units } from '../../terms.js';

/** Marks of a tape: 1/32 in, 0.1 mm. */
const MARKS: Readonly<Record<Units, number>> = { in: Number(UM_PER_INCH) / 32, mm: 100 };
/** Far above the error of a double here. */
const GUARD = 1e-6;

/** One of the sizes of a frame: width and height of a rectangle, the one side of a regular frame. */
export interface FrameSizes {
  readonly outside: Um;
  readonly sight: Um;
  readonly rabbet: Um;
  /** Down to a mark of the tape, so that it fits; null where the moulding has no rabbet to hold any. */
  readonly glass: Um | null;
}

function glassAsOrdered(size: number, line: FrameLine, moulding: Moulding, t: number): number {
  const [play, rabbet, face] = [toNumber(line.play), toNumber(moulding.rabbet), toNumber(moulding.face)];
  switch (line.measuredBy) {
    case 'glass':
      return size;
    case 'rabbet':
      return size - play * t;
    case 'sight':
      return size + (2 * rabbet - play) * t;
    case 'outside':
      return size + (2 * rabbet - 2 * face - play) * t;
  }
}

/** `cut`: how long the rails of each side are in the plan, by side; a side that is not cut is as ordered. */
export function frameSizes(
  batch: Batch,
  line: FrameLine,
  moulding: Moulding,
  cut: ReadonlyMap<string, Um>,
): readonly FrameSizes[] {
  const t = mitreTan(sidesOf(line));
  const ordered = orderedSides(line);
  const holds = toNumber(moulding.rabbet) > 0 || line.measuredBy === 'glass';
  return railsOf(batch, batch.frames.indexOf(line), moulding).map(({ sides, setting }, i) => {
    const outside = cut.get(sides[0] ?? '') ?? setting;
    const sight = outside - 2 * toNumber(moulding.face) * t;
    const glass = glassAsOrdered(toNumber(ordered[i]!.size), line, moulding, t);
    const mark = MARKS[batch.units];
    return {
      outside,
      sight: Math.round(sight),
      rabbet: Math.round(sight + 2 * toNumber(moulding.rabbet) * t),
      glass: holds && glass > mark ? Math.round(Math.floor((glass + GUARD) / mark) * mark) : null,
    };
  });
}
