/** Compares in this process, question after question. */
import { PairstopError } from '../errors.js';
import { refuseUncuttable } from '../plan/here.js';
import type { Engine } from '../solve/engine.js';
import { ordersOf } from '../stock/orders.js';
import type { Batch } from '../terms.js';
import { answer, type Clock } from './answer.js';
import { assembleComparison, compared, isPriced } from './compare.js';
import { type Compared, compareMoulding } from './moulding.js';
import type { Comparison } from './types.js';

const MS_PER_SECOND = 1000;

/** One moulding of a batch, one that `compared` lists. */
export function compareMouldingHere(batch: Batch, moulding: string, engine: Engine, clock: Clock): Compared {
  const order = ordersOf(batch).get(moulding);
  if (order === undefined) throw new PairstopError('PS_INTERNAL', `the batch has no moulding "${moulding}"`);
  const asking = compareMoulding(batch, order, { priced: isPriced(batch), breakEven: true });
  for (let step = asking.next(); ; ) {
    if (step.done === true) return step.value;
    step = asking.next(step.value.map((question) => answer(batch, question, engine, clock)));
  }
}

/** Within the batch's time limit. Throws PS_BATCH for frames nothing can hold, PS_OFFERS where there is no choice. */
export function compareHere(
  batch: Batch,
  engine: Engine,
  { now, stopped }: Pick<Clock, 'now' | 'stopped'>,
): Comparison {
  refuseUncuttable(batch);
  const orders = compared(batch);
  const end = now() + batch.options.timeLimit * MS_PER_SECOND;
  const results = orders.map(({ moulding }, i) => {
    const begin = now();
    const deadline = begin + Math.max(0, end - begin) / (orders.length - i);
    return compareMouldingHere(batch, moulding.id, engine, { now, deadline, ...(stopped && { stopped }) });
  });
  return assembleComparison(batch, results);
}
