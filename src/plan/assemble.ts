/** Parts of all mouldings become the plan of the batch. */

import { moneyFromCents } from '../documents/money.js';
import type { Plan, Totals } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { mmFromUm } from '../lengths/units.js';
import type { ResolvedBatch } from '../stock/resolved.js';
import type { Labour } from '../terms.js';
import { unlikelySaw } from './order/unlikely.js';
import type { MouldingPart, PartTotals } from './part.js';
import { labourCost, seconds, stopsSetOf } from './sawing/hours.js';
import { withSkipped } from './short/skipped.js';

const YIELD_DECIMALS = 4;

function totalsOf(parts: readonly PartTotals[], merging: boolean, labour: Labour): Totals {
  const sum = (of: (part: PartTotals) => number): number =>
    parts.reduce((total, part) => total + of(part), 0);
  const stock = sum((part) => part.stockLength);
  const rails = sum((part) => part.railLength);
  const offcuts = sum((part) => part.offcutLength);
  const time = sum((part) => part.time);
  const cost = labourCost(labour, time);
  return {
    sticks: sum((part) => part.sticks),
    stockLength: mmFromUm(stock),
    railLength: mmFromUm(rails),
    offcutLength: mmFromUm(offcuts),
    wasteLength: mmFromUm(stock - rails - offcuts),
    yield: stock === 0 ? 0 : Number((rails / stock).toFixed(YIELD_DECIMALS)),
    cost: moneyFromCents(sum((part) => part.cost)),
    stopSettings: sum((part) => part.stopSettings),
    cuts: sum((part) => part.cuts),
    stopsSet: stopsSetOf({
      value: sum((part) => part.stopsSet.value),
      bound: sum((part) => part.stopsSet.bound),
    }),
    seconds: seconds(time),
    ...(cost !== null && { labour: moneyFromCents(cost) }),
    handling: {
      visits: sum((part) => part.handling.visits),
      layouts: sum((part) => part.handling.layouts),
      splitPairs: sum((part) => part.handling.splitPairs),
      offcuts: sum((part) => part.handling.offcuts),
    },
    ...(merging && {
      unmerged: {
        stopSettings: sum((part) => part.unmerged?.stopSettings ?? part.stopSettings),
        cost: moneyFromCents(sum((part) => part.unmerged?.cost ?? part.cost)),
      },
    }),
  };
}

/** The batch's plan from one part a moulding, in any order. Throws PS_INTERNAL when one is missing. */
export function assemblePlan(resolved: ResolvedBatch, parts: readonly MouldingPart[]): Plan {
  const { batch } = resolved;
  const byMoulding = new Map(parts.map((part) => [part.moulding, part]));
  const ordered = batch.mouldings.map(({ id }) => {
    const part = byMoulding.get(id);
    if (part === undefined) throw new PairstopError('PS_INTERNAL', `no part for moulding "${id}"`);
    return withSkipped(resolved, part);
  });
  const shortfall = ordered.flatMap((part) => (part.shortfall === null ? [] : [part.shortfall]));
  return {
    schema: 'pairstop/plan@1',
    batch: batch.id,
    units: batch.units,
    lengths: 'mm',
    status: shortfall.length === 0 ? 'complete' : 'short',
    mouldings: ordered.map((part) => part.plan),
    buy: ordered.flatMap((part) => part.buy),
    totals: totalsOf(
      ordered.map((part) => part.totals),
      batch.options.mergeStops,
      batch.labour,
    ),
    shortfall,
    notices: [...unlikelySaw(batch), ...ordered.flatMap((part) => part.notices)],
  };
}
