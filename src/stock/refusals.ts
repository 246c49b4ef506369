/** Frames that no stick of the batch can hold, whatever the plan. */
import { type InputProblem, PairstopError } from '../errors.js';
import { formatLength } from '../lengths/format.js';
import { PROBLEMS_LISTED } from '../read/limits.js';
import { refusal } from '../read/problems.js';
import type { Batch, FrameLine, Um } from '../terms.js';
import { everyOrderOf, type Order } from './lines.js';
import { taskOf } from './problem.js';
import { runLength, spare } from './spacing.js';
import type { MouldingTask, UnitType } from './task.js';

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

function tooLong(batch: Batch, order: Order): readonly ImpossibleFrame[] {
  const task = taskOf(batch, order);
  if (task === null) return [];
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

const known = new WeakMap<Batch, readonly ImpossibleFrame[]>();

/** Every rail and run that cannot be cut from anything, in the order of the mouldings; a line may come twice. */
export function impossibleFrames(batch: Batch): readonly ImpossibleFrame[] {
  const found =
    known.get(batch) ?? [...everyOrderOf(batch).values()].flatMap((order) => tooLong(batch, order));
  known.set(batch, found);
  return found;
}

function written(batch: Batch, um: Um): string {
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

/**
 * The same as problems of the batch; empty when everything can be cut. What the shop's rack holds is known only when the
 * batch is planned: frames that nothing there holds are in the plan's shortfall.
 */
export function refusals(batch: Batch): readonly InputProblem[] {
  const own = new Set(batch.sticks.map(({ moulding }) => moulding));
  const here = impossibleFrames(batch).filter(
    ({ line }) => batch.rack === null || own.has(batch.frames[line]!.moulding),
  );
  return here.map((frame) => {
    const { line, field, rails, need, longest } = frame;
    const { id, moulding } = batch.frames[line]!;
    const what = rails > 1 ? `a run of ${rails} rails` : 'a rail';
    return {
      path: `frames[${line}].${field}`,
      given: `frame "${id}", which needs ${what}, ${written(batch, need)} clear, of "${moulding}"`,
      allowed:
        longest === 0
          ? `runs that a rack stick or an offer of "${moulding}" can hold; there is none`
          : `runs of at most ${written(batch, longest)}, the longest clear span of its rack and offers`,
    };
  });
}

/** Throws PS_BATCH, naming every frame that no stick of the batch can hold; not where the batch has them skipped. */
export function refuseUncuttable(batch: Batch): void {
  if (batch.options.skipImpossible) return;
  const problems = refusals(batch);
  if (problems.length === 0) return;
  throw refusal('PS_BATCH', 'frames cannot be cut', problems.slice(0, PROBLEMS_LISTED), problems.length);
}

/** For planning without the queue. Throws PS_RACK for a batch that is planned from the shop's rack. */
export function refuseShopRack(batch: Batch): void {
  if (batch.rack === null) return;
  const allowed =
    'through the queue, which knows what is free (pairstop submit); here, list the pieces in sticks';
  throw new PairstopError('PS_RACK', `rack: given "shop"; allowed: ${allowed}`, [
    { path: 'rack', given: '"shop"', allowed },
  ]);
}
