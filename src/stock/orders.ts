/** The orders that are planned: all of the batch, or all but impossible frames where those are skipped. */
import { PairstopError } from '../errors.js';
import type { Batch } from '../terms.js';
import { everyOrderOf, type Order } from './lines.js';
import { impossibleFrames } from './refusals.js';

const known = new WeakMap<Batch, ReadonlyMap<string, Order>>();

function withoutImpossible(batch: Batch): ReadonlyMap<string, Order> {
  const all = everyOrderOf(batch);
  const impossible = new Set(impossibleFrames(batch).map(({ line }) => line));
  if (impossible.size === 0) return all;
  return new Map(
    [...all].map(([id, order]) => [
      id,
      { ...order, lines: order.lines.filter((line) => !impossible.has(line)) },
    ]),
  );
}

/** Orders by moulding id, in the order of the batch's mouldings. */
export function ordersOf(batch: Batch): ReadonlyMap<string, Order> {
  if (!batch.options.skipImpossible) return everyOrderOf(batch);
  const orders = known.get(batch) ?? withoutImpossible(batch);
  known.set(batch, orders);
  return orders;
}

/** The orders of mouldings with offers to choose from, which are compared. Throws PS_OFFERS where there are none. */
export function comparedOrders(batch: Batch): readonly Order[] {
  const orders = [...ordersOf(batch).values()].filter(({ lines }) => lines.length > 0);
  const choosing = orders.filter(({ offers }) => offers.length > 0);
  if (choosing.length === 0) {
    const problem = {
      path: 'offers',
      given: batch.offers.length === 0 ? 'no offers' : 'no offers of a moulding that frames are ordered in',
      allowed: `at least one offer of ${orders.map(({ moulding }) => JSON.stringify(moulding.id)).join(' or ')}`,
    };
    throw new PairstopError(
      'PS_OFFERS',
      `there is nothing to compare: ${problem.path}: given ${problem.given}; allowed: ${problem.allowed}`,
      [problem],
    );
  }
  return choosing;
}

export type { Order };
