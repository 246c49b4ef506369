/** The part of a moulding that could not be planned: a plan without it says so, instead of being silent. */
import type { ResolvedBatch } from '../../stock/resolved.js';
import { emptyPart } from '../build.js';
import { notPlanned, reasonOf } from '../notices.js';
import type { MouldingPart, Unplanned } from '../part.js';
import { wholeShortfall } from './shortfall.js';

/** Nothing cut, every frame in the shortfall. Asks no engine: the one that was asked may have died of it. */
export function unplannedPart(resolved: ResolvedBatch, unplanned: Unplanned): MouldingPart {
  const { moulding, code, message } = unplanned;
  const { batch } = resolved;
  const order = resolved.order(moulding);
  const empty = emptyPart(batch, order);
  const notices = [notPlanned(unplanned, order.index)];
  const task = resolved.task(order);
  const plan = { ...empty.plan, unplanned: { code, message: reasonOf(message) } };
  if (task === null) return { ...empty, plan, notices };
  return {
    ...empty,
    plan: { ...plan, status: 'short', proof: { ...plan.proof, status: 'unproven' } },
    shortfall: wholeShortfall(batch, task),
    shortfallProven: false,
    notices,
    copies: task.lines.map(() => 0),
  };
}
