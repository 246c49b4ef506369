/** Compares in this process, question after question. */

import type { Comparison } from '../documents/comparison/types.js';
import type { Engine } from '../solve/engine.js';
import type { Order } from '../stock/lines.js';
import { narrowedTo } from '../stock/narrow.js';
import { refuseUncuttable } from '../stock/refusals.js';
import { comparedOrders, ResolvedBatch, withoutImpossible } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { answer, type QuestionClock } from './answer.js';
import { assembleComparison, isPriced } from './compare.js';
import { type Compared, compareMoulding } from './moulding.js';

const MS_PER_SECOND = 1000;

/** One of the orders that `compared` lists; `priced` is of the whole batch. */
export function compareOrderHere(
  batch: Batch,
  order: Order,
  priced: boolean,
  engine: Engine,
  clock: QuestionClock,
): Compared {
  const own = narrowedTo(batch, order);
  const asking = compareMoulding(batch, order, { priced, breakEven: true });
  for (let step = asking.next(); ; ) {
    if (step.done === true) return step.value;
    step = asking.next(step.value.map((question) => answer(own, question, engine, clock)));
  }
}

/** Within the batch's time limit. Throws PS_BATCH for frames nothing can hold, PS_OFFERS where there is no choice. */
export function compareHere(
  batch: Batch,
  engine: Engine,
  { now, stopped }: Pick<QuestionClock, 'now' | 'stopped'>,
): Comparison {
  const ordered = new ResolvedBatch(batch);
  refuseUncuttable(ordered);
  const { resolved } = withoutImpossible(ordered);
  const orders = comparedOrders(resolved);
  const priced = isPriced(batch);
  const end = now() + batch.options.timeLimit * MS_PER_SECOND;
  const results = orders.map((order, i) => {
    const begin = now();
    const deadline = begin + Math.max(0, end - begin) / (orders.length - i);
    return compareOrderHere(resolved.batch, order, priced, engine, {
      now,
      deadline,
      ...(stopped && { stopped }),
    });
  });
  return assembleComparison(ordered, results);
}
