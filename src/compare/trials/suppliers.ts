/** Which supplier to buy from: each alone, or all of them, with their minimum orders. */

import type { MouldingComparison, Scenario, SupplierRow } from '../../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents } from '../../documents/money.js';
import type { Batch, Cents, Offer } from '../../terms.js';
import { money, named } from '../../text/page.js';
import { keyOf } from './sets.js';

interface SupplierCost {
  readonly cost: Cents;
  readonly bound: Cents;
}

/** What a moulding costs from these offers alone; null where they cannot make the order, or were not tried together. */
function alone(
  { scenarios, recommendation }: MouldingComparison,
  offers: readonly Offer[],
): SupplierCost | null {
  if (recommendation.cost === 0) return { cost: 0, bound: 0 };
  const key = keyOf(offers.map(({ id }) => id));
  const tried: Scenario | undefined = scenarios.find((one) => keyOf(one.offers) === key);
  return tried?.proof
    ? { cost: centsFromMoney(tried.proof.value), bound: centsFromMoney(tried.proof.bound) }
    : null;
}

function total(sums: readonly (SupplierCost | null)[]): SupplierCost | null {
  return sums.reduce<SupplierCost | null>(
    (sum, one) => sum && one && { cost: sum.cost + one.cost, bound: sum.bound + one.bound },
    { cost: 0, bound: 0 },
  );
}

const SHORT = { status: 'short', cost: null, payable: null, bound: null } as const;

function row(
  suppliers: readonly string[],
  sum: SupplierCost | null,
  payable: Cents,
  bound: Cents,
): SupplierRow {
  if (sum === null) return { suppliers, ...SHORT };
  return {
    suppliers,
    status: 'complete',
    cost: moneyFromCents(sum.cost),
    payable: moneyFromCents(payable),
    bound: moneyFromCents(bound),
  };
}

/** Empty where fewer than two suppliers are named and none has a minimum. */
export function supplierRows(batch: Batch, mouldings: readonly MouldingComparison[]): SupplierRow[] {
  const ids = batch.suppliers.map(({ id }) => id);
  if (ids.length === 0 || mouldings.length === 0) return [];
  const rows = batch.suppliers.map(({ id, minimumOrder }) => {
    const sum = total(
      mouldings.map((one) =>
        alone(
          one,
          batch.offers.filter(({ moulding, supplier }) => moulding === one.moulding && supplier === id),
        ),
      ),
    );
    const raised = (of: Cents): Cents => (sum?.cost === 0 ? 0 : Math.max(minimumOrder, of));
    return row([id], sum, raised(sum?.cost ?? 0), raised(sum?.bound ?? 0));
  });
  const all = total(
    mouldings.map(({ recommendation: { cost, bound } }) =>
      cost === null || bound === null ? null : { cost: centsFromMoney(cost), bound: centsFromMoney(bound) },
    ),
  );
  const spent = new Map<string | null, Cents>();
  for (const { offer, cost } of mouldings.flatMap(({ recommendation }) => recommendation.buy)) {
    const supplier = batch.offers.find(({ id }) => id === offer)?.supplier ?? null;
    spent.set(supplier, (spent.get(supplier) ?? 0) + centsFromMoney(cost));
  }
  const minimum = new Map(batch.suppliers.map(({ id, minimumOrder }) => [id, minimumOrder]));
  const payable = [...spent].reduce(
    (sum, [supplier, cost]) => sum + Math.max(cost, minimum.get(supplier ?? '') ?? 0),
    0,
  );
  return [...rows, row(ids, all, payable, all?.bound ?? 0)];
}

function cheapestRow(rows: readonly SupplierRow[]): SupplierRow | null {
  return rows.reduce<SupplierRow | null>(
    (best, one) =>
      one.payable !== null && (best === null || one.payable < (best.payable ?? 0)) ? one : best,
    null,
  );
}

/** Where to buy; empty where minimum orders do not change what is paid. */
export function aboutSuppliers(rows: readonly SupplierRow[]): string[] {
  const together = rows.at(-1);
  if (together === undefined || rows.every(({ cost, payable }) => cost === payable)) return [];
  const best = cheapestRow(rows);
  if (best?.payable == null) return [];
  const from =
    best === together && rows.length > 2
      ? 'as recommended from each supplier'
      : `all from ${named(best.suppliers)}`;
  const sure = rows.every(({ status, bound }) => status === 'short' || (bound ?? 0) >= (best.payable ?? 0));
  const how = sure ? 'proven among these ways to buy' : 'the cheapest way found';
  return [`With the suppliers' minimum orders, buy ${from} for ${money(best.payable)}, ${how}.`];
}
