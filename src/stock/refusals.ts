/** What is refused before anything is planned: frames that nothing can hold, a rack that only the queue knows. */
import { type InputProblem, PairstopError } from '../errors.js';
import { PROBLEMS_LISTED } from '../read/limits.js';
import { refusal } from '../read/problems.js';
import type { Batch } from '../terms.js';
import { written } from './impossible.js';
import type { ResolvedBatch } from './resolved.js';

/**
 * The impossible frames as problems of the batch; empty when everything can be cut. What the shop's rack holds is known only when the
 * batch is planned: frames that nothing there holds are in the plan's shortfall.
 */
export function refusals({ batch, impossible }: ResolvedBatch): readonly InputProblem[] {
  const own = new Set(batch.sticks.map(({ moulding }) => moulding));
  const here = impossible.filter(({ line }) => batch.rack === null || own.has(batch.frames[line]!.moulding));
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
export function refuseUncuttable(resolved: ResolvedBatch): void {
  if (resolved.batch.options.skipImpossible) return;
  const problems = refusals(resolved);
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
