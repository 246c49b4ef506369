/** Frames that no stick of the batch can hold, whatever the plan. */
import type { InputProblem } from '../errors.js';
import { formatLength } from '../lengths/format.js';
import { PROBLEMS_LISTED } from '../read/limits.js';
import { refusal } from '../read/problems.js';
import type { Batch, FrameLine, Um } from '../terms.js';
import { type Order, ordersOf } from './orders.js';
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

function tooLong(batch: Batch, order: Order, problems: InputProblem[]): void {
  const task = taskOf(batch, order);
  if (task === null) return;
  const longest = longestLane(task);
  const written = (um: Um): string => formatLength(um, batch.units, batch.saw.stopStep);
  for (const unit of task.units) {
    const { kind, settings } = task.items[unit.item]!;
    const need = runLength(task.spacing, kind, settings);
    if (need <= longest) continue;
    const line = batch.frames[unit.line]!;
    const what = unit.whole ? `a run of ${settings.length} rails` : 'a rail';
    problems.push({
      path: `frames[${unit.line}].${fieldOf(line, unit)}`,
      given: `frame "${line.id}", which needs ${what}, ${written(need)} clear, of "${order.moulding.id}"`,
      allowed:
        longest === 0
          ? `runs that a rack stick or an offer of "${order.moulding.id}" can hold; there is none`
          : `runs of at most ${written(longest)}, the longest clear span of its rack and offers`,
    });
  }
}

/** Every frame that cannot be cut from anything, as problems of the batch; empty when all can. */
export function refusals(batch: Batch): readonly InputProblem[] {
  const problems: InputProblem[] = [];
  for (const order of ordersOf(batch).values()) {
    // What the shop's rack holds is known only when the batch is planned.
    if (batch.rack === 'shop' && order.rack.length === 0) continue;
    tooLong(batch, order, problems);
  }
  return problems;
}

/** Throws PS_BATCH, naming every frame that no stick of the batch can hold. */
export function refuseUncuttable(batch: Batch): void {
  const problems = refusals(batch);
  if (problems.length === 0) return;
  throw refusal('PS_BATCH', 'frames cannot be cut', problems.slice(0, PROBLEMS_LISTED), problems.length);
}
