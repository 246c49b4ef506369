/** A batch's comparison, put together from those of its mouldings. */

import type { Comparison } from '../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents } from '../documents/money.js';
import { PairstopError } from '../errors.js';
import { skippedNotices } from '../plan/short/skipped.js';
import { linesOf } from '../stock/impossible.js';
import { lengthAsCents } from '../stock/piles.js';
import { comparedOrders, type ResolvedBatch, withoutImpossible } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import type { Compared } from './moulding.js';
import { aboutSuppliers, supplierRows } from './trials/suppliers.js';

/** Whether any offer has a price that is not its length. */
export function isPriced({ offers, units }: Batch): boolean {
  return offers.some(
    ({ price, length, breaks }) => breaks.length > 0 || Math.abs(price - lengthAsCents(length, units)) > 1,
  );
}

/** From one result for each of `comparedOrders`, in any order. `given`: with the frames that nothing can hold. */
export function assembleComparison(given: ResolvedBatch, results: readonly Compared[]): Comparison {
  const { resolved, skipped } = withoutImpossible(given);
  const { batch } = resolved;
  const byMoulding = new Map(results.map((one) => [one.document.moulding, one]));
  const orders = comparedOrders(resolved);
  const ordered = orders.map(({ moulding }) => {
    const found = byMoulding.get(moulding.id);
    if (found === undefined)
      throw new PairstopError('PS_INTERNAL', `no comparison of moulding "${moulding.id}"`);
    return found;
  });
  const mouldings = ordered.map(({ document }) => document);
  const sum = (of: (one: (typeof mouldings)[number]) => number | null): number =>
    moneyFromCents(mouldings.reduce((total, one) => total + centsFromMoney(of(one) ?? 0), 0));
  const suppliers = supplierRows(batch, mouldings);
  const left = [...resolved.orders.values()].filter(
    ({ lines, offers }) => lines.length > 0 && offers.length === 0,
  );
  const sticks = ({ scenarios, recommendation }: (typeof mouldings)[number]): number => {
    const same = scenarios.find(
      ({ proof, buy }) =>
        proof?.value === recommendation.cost && JSON.stringify(buy) === JSON.stringify(recommendation.buy),
    );
    return same?.figures?.sticks ?? 0;
  };
  return {
    schema: 'pairstop/comparison@1',
    batch: batch.id,
    units: batch.units,
    status:
      skipped.length === 0 && mouldings.every(({ status }) => status === 'complete') ? 'complete' : 'short',
    recommendation: [
      ...mouldings.map(({ recommendation }) => recommendation.sentence),
      ...aboutSuppliers(suppliers),
    ].join(' '),
    measure: isPriced(batch) ? 'cost' : 'length',
    totals: {
      cost: sum(({ recommendation }) => recommendation.cost),
      bound: sum(({ recommendation }) => recommendation.bound),
      sticks: mouldings.reduce((total, one) => total + sticks(one), 0),
    },
    mouldings,
    suppliers,
    ...(skipped.length > 0 && { skipped: linesOf(given.batch, skipped) }),
    notices: [
      ...skippedNotices(given.batch, skipped).map(({ message }) => message),
      ...left.map(({ moulding }) => `${moulding.id}: nothing is offered of it; it is not compared`),
      ...(batch.options.mergeStops
        ? ['stops are not merged here: every rail is cut at its own setting']
        : []),
      ...ordered.flatMap(({ notices }) => notices),
    ],
  };
}
