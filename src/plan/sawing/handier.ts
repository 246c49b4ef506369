/** Which of two plans of the same pieces is easier to cut. */
import type { Batch } from '../../terms.js';
import type { MouldingPart } from '../part.js';

/** Sticks begun beyond what the bench holds, then stops set, then visits. */
function figuresOf({ saw: { bench } }: Batch, { plan, totals }: MouldingPart): readonly number[] {
  const { runs = [] } = plan;
  const over = runs.reduce((sum, { begunMost }) => sum + Math.max(0, begunMost - (bench ?? begunMost)), 0);
  return [over, totals.stopsSet.value, totals.handling.visits];
}

/** The first of equals. */
export function handier(batch: Batch, a: MouldingPart, b: MouldingPart): MouldingPart {
  const [one, other] = [figuresOf(batch, a), figuresOf(batch, b)];
  const at = one.findIndex((figure, k) => figure !== other[k]);
  return at >= 0 && other[at]! < one[at]! ? b : a;
}
