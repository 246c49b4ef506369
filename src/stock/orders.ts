/** The orders that are planned: all of the batch, or all but impossible frames where those are skipped. */
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

export type { Order };
