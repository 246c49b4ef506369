/** Frames that no stick of their moulding can hold, whatever the plan. */
import { toNumber } from '../lengths/exact.js';
import { formatLength } from '../lengths/format.js';
import { mitreTan } from '../rails/mitre.js';
import { sidesOf } from '../rails/rails.js';
import type { Batch, FrameLine, Um } from '../terms.js';
import { clearSpans } from './lanes.js';
import type { Order } from './lines.js';
import { supplyOf } from './purchase.js';
import { runLength, spare } from './spacing.js';
import type { MouldingTask, UnitType } from './task.js';

/** Far above what rounding to whole micrometres and doubles come to. */
const MARGIN: Um = 1_000;

function fieldOf(line: FrameLine, unit: UnitType): string {
  if (unit.whole) return 'match';
  if (line.shape.kind === 'regular') return 'side';
  return unit.sides[0] === 'top' ? 'width' : 'height';
}

/** Longest clear span of any piece there is. */
export function longestLane(task: MouldingTask): Um {
  const segments = task.piles.flatMap((pile) => pile.segments);
  return (
    segments.reduce((most, segment) => Math.max(most, segment), 0) -
    (segments.length > 0 ? spare(task.spacing) : 0)
  );
}

/** A rail, or a matched run, of an order line that no stick of its moulding can hold, whatever the plan. */
export interface ImpossibleFrame {
  /** Its place in `Batch.frames`. */
  readonly line: number;
  /** The field that asks for it. */
  readonly field: string;
  /** Rails in the run; 1: a single rail. */
  readonly rails: number;
  /** Clear length it needs, and the longest there is; 0: there is no stick at all. */
  readonly need: Um;
  readonly longest: Um;
}

/**
 * Whether everything of an order surely fits on a stick that can be bought: a rail is never longer than its size, all
 * its play, both faces and a step of the stop. True of nearly every order, and told without the engine's problem; false
 * says nothing.
 */
export function surelyFits({ frames, saw }: Batch, { lines, moulding, offers }: Order): boolean {
  const longest = offers.reduce((most, offer) => {
    const spans = supplyOf(offer) === 0 ? [] : clearSpans(offer, moulding, saw.recut);
    return spans.reduce((widest, { from, to }) => Math.max(widest, to - from), most);
  }, 0);
  const [faces, step] = [2 * toNumber(moulding.face), toNumber(saw.stopStep)];
  return lines.every((index) => {
    const line = frames[index]!;
    const { shape, play, match } = line;
    if (match !== 'stop') return false;
    const size =
      shape.kind === 'rectangle'
        ? Math.max(toNumber(shape.width), toNumber(shape.height))
        : toNumber(shape.side);
    const around = (faces + toNumber(play)) * mitreTan(sidesOf(line));
    return size + around + step + MARGIN <= longest;
  });
}

/** Every rail and run of one moulding that cannot be cut from anything; a line may come twice. */
export function impossibleIn(batch: Batch, task: MouldingTask): readonly ImpossibleFrame[] {
  const longest = longestLane(task);
  return task.units.flatMap((unit): ImpossibleFrame[] => {
    const { kind, settings } = task.items[unit.item]!;
    const need = runLength(task.spacing, kind, settings);
    if (need <= longest) return [];
    const { line } = unit;
    return [
      {
        line,
        field: fieldOf(batch.frames[line]!, unit),
        rails: unit.whole ? settings.length : 1,
        need,
        longest,
      },
    ];
  });
}

/** Ids of the order lines, in the order of the batch. */
export function linesOf(batch: Batch, found: readonly ImpossibleFrame[]): readonly string[] {
  const lines = [...new Set(found.map(({ line }) => line))].sort((a, b) => a - b);
  return lines.map((line) => batch.frames[line]!.id);
}

/** A length of the batch, as a person reads it off the tape. */
export function written(batch: Batch, um: Um): string {
  return formatLength(um, batch.units, batch.saw.stopStep);
}

/** Why it cannot be cut, for a person: what it needs, and what there is. */
export function impossibleText(batch: Batch, { line, rails, need, longest }: ImpossibleFrame): string {
  const what = rails > 1 ? `a run of ${rails} rails` : 'a rail';
  const { moulding } = batch.frames[line]!;
  const there =
    longest === 0
      ? 'there is no stick of it'
      : `the longest clear span of its sticks is ${written(batch, longest)}`;
  return `needs ${what}, ${written(batch, need)} clear, of "${moulding}"; ${there}`;
}
