/**
 * Verifies what a comparison claims, as far as it follows from the document, the batch and the definition of the trade.
 *
 * | of | checked |
 * | --- | --- |
 * | purchases | their offers, packs, numbers and prices; that they and the rack make the order, by a plan that is found for it and verified as any plan is (`makes`) |
 * | bounds | none is above its value, or above what fewer of its offers cost. They cannot be proved again without solving |
 * | figures | lengths add up, rails are as long as they must be, money is divided without rest; how many offcuts only roughly |
 * | recommendation | the cheapest scenario; what it saves against the cheapest that lacks one of its offers |
 * | prices | at each price named, the recommended purchase costs no more than every other purchase of the document. That no purchase elsewhere is cheaper cannot be checked without solving |
 * | spare sticks | the odds never fall, and the levels are read off them |
 * | sentences | that they name what is bought and its cost |
 * | notices | not checked |
 */
import type { Comparison, SupplierRow } from '../../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents } from '../../documents/money.js';
import type { Batch, Cents, Um, Units } from '../../terms.js';
import { nothingVerified } from '../context.js';
import { type CheckReport, Findings } from '../report.js';
import { Settings } from '../settings.js';
import { withShopRack } from '../wood/shop-rack.js';
import { checkPrices, checkRecommendation } from './advice.js';
import type { Makes, OnComparison, OnMoulding } from './context.js';
import { checkConditions, checkFootage, checkGrowth, checkSpare } from './outlook.js';
import { checkScenarios } from './scenarios.js';
import { checkSkipped } from './skipped.js';

const UM_PER_UNIT: Readonly<Record<Units, Um>> = { in: 25_400, mm: 1_000 };

/** Any offer has a price that is not its length. */
function isPriced({ offers, units }: Batch): boolean {
  return offers.some(({ price, length, breaks }) => {
    const asLength = Math.round((length * 100) / UM_PER_UNIT[units]);
    return breaks.length > 0 || Math.abs(price - asLength) > 1;
  });
}

function checkHead(on: OnComparison): void {
  const { batch, comparison, findings } = on;
  const same = (path: string, found: unknown, holds: unknown): void => {
    if (found !== holds) findings.add('CHECK_DOCUMENT', path, String(found), String(holds));
  };
  same('schema', comparison.schema, 'pairstop/comparison@1');
  same('batch', comparison.batch, batch.id);
  same('units', comparison.units, batch.units);
  same('measure', comparison.measure, isPriced(batch) ? 'cost' : 'length');
  const parts = comparison.mouldings.map(({ recommendation }) => recommendation.sentence).join(' ');
  // Minimum orders of suppliers may add a sentence.
  const rest = comparison.recommendation.startsWith(parts)
    ? comparison.recommendation.slice(parts.length)
    : null;
  const told =
    rest === '' ||
    (batch.suppliers.length > 0 && /^ With the suppliers' minimum orders, .*\.$/.test(rest ?? ''));
  if (!told) {
    findings.add(
      'CHECK_RECOMMENDED',
      'recommendation',
      comparison.recommendation,
      'the sentences of the mouldings',
    );
  }
  const skipped = (comparison.skipped ?? []).length > 0;
  const short = skipped || comparison.mouldings.some(({ status }) => status === 'short');
  if (comparison.status !== (short ? 'short' : 'complete')) {
    findings.add('CHECK_STATUS', 'status', comparison.status, short ? 'short' : 'complete');
  }
}

function checkComparisonTotals({ comparison, findings }: OnComparison): void {
  const { mouldings, totals } = comparison;
  const sum = (of: 'cost' | 'bound'): number =>
    moneyFromCents(
      mouldings.reduce((all, { recommendation }) => all + centsFromMoney(recommendation[of] ?? 0), 0),
    );
  const sticks = mouldings.reduce((all, { scenarios, recommendation: { buy, cost } }) => {
    const same = scenarios.find(
      (one) => one.proof?.value === cost && JSON.stringify(one.buy) === JSON.stringify(buy),
    );
    return all + (same?.figures?.sticks ?? 0);
  }, 0);
  const due = { cost: sum('cost'), bound: sum('bound'), sticks };
  for (const key of ['cost', 'bound', 'sticks'] as const) {
    if (totals[key] !== due[key])
      findings.add('CHECK_TOTALS', `totals.${key}`, String(totals[key]), String(due[key]));
  }
}

/** What all mouldings cost from these offers alone, and what is proven of it; null where some cannot be made of them. */
function fromSupplier({ batch, comparison }: OnComparison, supplier: string): readonly [Cents, Cents] | null {
  let [cost, bound] = [0, 0];
  for (const { moulding, scenarios, recommendation } of comparison.mouldings) {
    if (recommendation.cost === 0) continue;
    const own = batch.offers
      .filter((one) => one.moulding === moulding && one.supplier === supplier)
      .map(({ id }) => id);
    const proof = scenarios.find(({ offers }) => offers.join('\n') === own.join('\n'))?.proof;
    if (proof == null) return null;
    cost += centsFromMoney(proof.value);
    bound += centsFromMoney(proof.bound);
  }
  return [cost, bound];
}

function checkRow(on: OnComparison, row: SupplierRow, r: number): void {
  const { batch, comparison, findings } = on;
  const whole = r === batch.suppliers.length;
  const minimum = new Map(batch.suppliers.map(({ id, minimumOrder }) => [id, minimumOrder]));
  const [first = ''] = row.suppliers;
  const sum = whole
    ? comparison.mouldings.reduce<readonly [Cents, Cents] | null>(
        (all, { recommendation: { cost, bound } }) => {
          if (all === null || cost === null || bound === null) return null;
          return [all[0] + centsFromMoney(cost), all[1] + centsFromMoney(bound)];
        },
        [0, 0],
      )
    : fromSupplier(on, first);
  const spent = new Map<string, Cents>();
  for (const { offer, cost } of comparison.mouldings.flatMap(({ recommendation }) => recommendation.buy)) {
    const supplier = batch.offers.find(({ id }) => id === offer)?.supplier ?? '';
    spent.set(supplier, (spent.get(supplier) ?? 0) + centsFromMoney(cost));
  }
  const raised = (of: Cents): Cents => (sum?.[0] === 0 ? 0 : Math.max(minimum.get(first) ?? 0, of));
  const payable = whole
    ? [...spent].reduce((all, [supplier, cost]) => all + Math.max(cost, minimum.get(supplier) ?? 0), 0)
    : raised(sum?.[0] ?? 0);
  const due = {
    suppliers: (whole ? batch.suppliers : batch.suppliers.slice(r, r + 1)).map(({ id }) => id).join(),
    status: sum === null ? 'short' : 'complete',
    cost: sum === null ? null : moneyFromCents(sum[0]),
    payable: sum === null ? null : moneyFromCents(payable),
    bound: sum === null ? null : moneyFromCents(whole ? sum[1] : raised(sum[1])),
  };
  const found = { ...row, suppliers: row.suppliers.join() };
  for (const key of Object.keys(due) as (keyof typeof due)[]) {
    if (found[key] !== due[key])
      findings.add('CHECK_TOTALS', `suppliers[${r}].${key}`, String(found[key]), String(due[key]));
  }
}

function checkSuppliers(on: OnComparison): void {
  const { batch, comparison, findings } = on;
  const due =
    batch.suppliers.length === 0 || comparison.mouldings.length === 0 ? 0 : batch.suppliers.length + 1;
  if (comparison.suppliers.length !== due) {
    findings.add('CHECK_TOTALS', 'suppliers', String(comparison.suppliers.length), String(due));
    return;
  }
  for (const [r, row] of comparison.suppliers.entries()) checkRow(on, row, r);
}

/** Every claim of `comparison` that does not hold. Never throws. */
export function checkClaims(given: Batch, comparison: Comparison, makes: Makes): CheckReport {
  const batch = withShopRack(given, comparison);
  const findings = new Findings();
  const on: OnComparison = { batch, comparison, settings: new Settings(batch), findings, makes };
  const verified = nothingVerified();
  checkHead(on);
  checkSkipped(on);
  const skipped = new Set(comparison.skipped);
  const offered = batch.mouldings.filter(
    ({ id }) =>
      batch.offers.some(({ moulding }) => moulding === id) &&
      batch.frames.some((line) => line.moulding === id && !skipped.has(line.id)),
  );
  const names = comparison.mouldings.map(({ moulding }) => moulding);
  if (names.join('\n') !== offered.map(({ id }) => id).join('\n')) {
    findings.add('CHECK_MOULDING', 'mouldings', names.join(', '), offered.map(({ id }) => id).join(', '));
  }
  comparison.mouldings.forEach((part, m) => {
    const moulding = offered.find(({ id }) => id === part.moulding);
    if (moulding === undefined) return;
    const path = `mouldings[${m}]`;
    const within: OnMoulding = {
      ...on,
      path,
      part,
      moulding,
      offers: batch.offers.filter((offer) => offer.moulding === moulding.id),
      lines: batch.frames.flatMap((line, index) =>
        line.moulding === moulding.id && !skipped.has(line.id) ? [{ ...line, index }] : [],
      ),
      add: (code, at, found, holds) => findings.add(code, `${path}.${at}`, String(found), String(holds)),
    };
    const short = part.recommendation.cost === null ? 'short' : 'complete';
    if (part.status !== short) findings.add('CHECK_STATUS', `${path}.status`, part.status, short);
    verified.mouldings += 1;
    verified.purchases += part.scenarios.length;
    checkScenarios(within);
    checkRecommendation(within);
    checkPrices(within);
    checkConditions(within);
    checkGrowth(within);
    checkFootage(within);
    checkSpare(within);
  });
  checkComparisonTotals(on);
  checkSuppliers(on);
  return findings.report(verified);
}
