/**
 * Order lines become rails. With t = tan θ, per side:
 *
 *     rabbet = glass + play·t,  sight = rabbet − 2R·t,  outside = sight + 2F·t
 *
 * A rail is its outside length, long point to long point, rounded up once to the stop step.
 */
import { add, type Exact, floorDivide, needUm, times, ZERO } from '../lengths/exact.js';
import type { Batch, FrameLine, MeasuredBy, Moulding, RailType, Um } from '../terms.js';
import { mitreAngle, needAcross, type RingSides } from './mitre.js';

/** Times tan θ, this is added to a size measured by `by` to give the sight size. */
function toSight(by: MeasuredBy, line: FrameLine, moulding: Moulding): Exact {
  const lips = times(moulding.rabbet, -2n);
  switch (by) {
    case 'glass':
      return add(line.play, lips);
    case 'rabbet':
      return lips;
    case 'sight':
      return ZERO;
    case 'outside':
      return times(moulding.face, -2n);
  }
}

/**
 * The smallest multiple n·step that, rounded up to whole micrometres, is at least `need` whole micrometres: steps of
 * 1/32 in are 793.75 µm, and a size on the step must stay there whatever its own rounding.
 */
export function settingFor(need: Um, step: Exact): Um {
  const below: Exact = { num: BigInt(need) - 1n, den: 1n };
  return needUm(times(step, floorDivide(below, step) + 1n));
}

/** The sizes of a frame's sides as ordered, with the sides each belongs to, in the order of the ring. */
export function orderedSides(
  line: FrameLine,
): readonly { readonly size: Exact; readonly sides: readonly string[] }[] {
  const { shape } = line;
  if (shape.kind === 'rectangle') {
    return [
      { size: shape.width, sides: ['top', 'bottom'] },
      { size: shape.height, sides: ['right', 'left'] },
    ];
  }
  return [{ size: shape.side, sides: Array.from({ length: shape.sides }, (_, i) => `side${i + 1}`) }];
}

export function sidesOf(line: FrameLine): RingSides {
  return line.shape.kind === 'rectangle' ? 4 : line.shape.sides;
}

/** Rails of the whole batch, every copy counted. */
export function railsIn({ frames }: Pick<Batch, 'frames'>): number {
  return frames.reduce((sum, line) => sum + sidesOf(line) * line.quantity, 0);
}

/** The rails of one copy of a frame: one entry per ordered size. `index` is the line's place in the batch. */
export function railsOf(batch: Batch, index: number, moulding: Moulding): readonly RailType[] {
  const line = batch.frames[index]!;
  const sides = sidesOf(line);
  const sight = toSight(line.measuredBy, line, moulding);
  const across = line.measuredBy === 'outside' ? ZERO : add(sight, times(moulding.face, 2n));
  return orderedSides(line).map(({ size, sides: names }) => ({
    line: index,
    sides: names,
    setting: settingFor(needAcross(size, across, sides), batch.saw.stopStep),
    angle: mitreAngle(sides),
  }));
}
