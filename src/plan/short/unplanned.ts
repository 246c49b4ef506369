/** The part of a moulding that could not be planned: a plan without it says so, instead of being silent. */
import { PairstopError } from '../../errors.js';
import { ordersOf } from '../../stock/orders.js';
import { taskOf } from '../../stock/problem.js';
import type { Batch } from '../../terms.js';
import { emptyPart } from '../build.js';
import { notPlanned, reasonOf } from '../notices.js';
import type { MouldingPart, Unplanned } from '../part.js';
import { wholeShortfall } from './shortfall.js';

/** Nothing cut, every frame in the shortfall. Asks no engine: the one that was asked may have died of it. */
export function unplannedPart(batch: Batch, unplanned: Unplanned): MouldingPart {
  const { moulding, code, message } = unplanned;
  const order = ordersOf(batch).get(moulding);
  if (order === undefined) throw new PairstopError('PS_INTERNAL', `the batch has no moulding "${moulding}"`);
  const empty = emptyPart(batch, moulding);
  const notices = [notPlanned(unplanned, order.index)];
  const task = taskOf(batch, order);
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
