/** What a plan buys: enough of each offer it cuts, in packs, at the price for that many. */
import { moneyText } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import type { Cents, Offer } from '../../terms.js';
import type { CheckBase } from '../context.js';
import { countAt, moneyAt } from '../numbers.js';

export interface CheckedPurchases {
  /** Pieces, by offer id. */
  readonly pieces: ReadonlyMap<string, number>;
  /** Cents, by moulding id. */
  readonly costs: ReadonlyMap<string, Cents>;
  readonly total: Cents;
}

export function costOf(offer: Offer, count: number): Cents {
  let price = offer.price;
  for (const tier of offer.breaks) if (count >= tier.from) price = tier.price;
  return price * count;
}

function wholePacks(offer: Offer, count: number): number {
  return Math.ceil(count / offer.pack) * offer.pack;
}

/** The least that `count` pieces or more cost: with price breaks, more can be cheaper. */
function leastCost(offer: Offer, count: number): Cents {
  let least = Number.POSITIVE_INFINITY;
  for (const from of [count, ...offer.breaks.map((tier) => tier.from)]) {
    const pieces = wholePacks(offer, Math.max(from, count));
    if (offer.available === null || pieces <= offer.available) least = Math.min(least, costOf(offer, pieces));
  }
  return least;
}

export function checkPurchases(on: CheckBase, buy: readonly PlannedPurchase[]): CheckedPurchases {
  const { batch, findings, verified } = on;
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  const pieces = new Map<string, number>();
  const costs = new Map<string, Cents>();
  let total = 0;
  buy.forEach((purchase, i) => {
    const path = `buy[${i}]`;
    verified.purchases += 1;
    const count = countAt(purchase.count, findings, 'buy', i, 'count');
    const cost = moneyAt(purchase.cost, findings, 'buy', i, 'cost');
    const offer = offers.get(purchase.offer);
    if (offer === undefined || offer.moulding !== purchase.moulding || pieces.has(offer.id)) {
      const given = `"${purchase.offer}" for "${purchase.moulding}"`;
      findings.add('CHECK_BUY', path, given, 'an offer of that moulding, in one entry');
      return;
    }
    pieces.set(offer.id, count);
    checkCount(on, offer, count, path);
    const due = costOf(offer, count);
    if (cost !== due)
      findings.add('CHECK_COST', `${path}.cost`, moneyText(cost), `${moneyText(due)} for ${count} pieces`);
    costs.set(offer.moulding, (costs.get(offer.moulding) ?? 0) + due);
    total += due;
  });
  return { pieces, costs, total };
}

function checkCount(on: CheckBase, offer: Offer, count: number, path: string): void {
  const { findings } = on;
  if (count % offer.pack !== 0) {
    findings.add('CHECK_PACK', `${path}.count`, `${count}`, `a multiple of ${offer.pack}`);
  }
  if (offer.available !== null && count > offer.available) {
    findings.add('CHECK_AVAILABLE', `${path}.count`, `${count}`, `at most ${offer.available}`);
  }
}

/** Against what was cut: enough is bought, and no more than is cheapest. `used` by offer id. */
export function checkBoughtUsed(
  on: CheckBase,
  buy: readonly PlannedPurchase[],
  bought: CheckedPurchases,
  used: ReadonlyMap<string, number>,
): void {
  const { batch, findings } = on;
  const offers = new Map(batch.offers.map((offer) => [offer.id, offer]));
  const entries = new Map(buy.map((purchase, at) => [purchase.offer, at]));
  for (const [id, count] of used) {
    if ((bought.pieces.get(id) ?? 0) >= count) continue;
    const entry = entries.get(id);
    const found = `${bought.pieces.get(id) ?? 0} of "${id}"`;
    findings.add(
      'CHECK_BUY',
      entry === undefined ? 'buy' : `buy[${entry}].count`,
      found,
      `at least the ${count} used`,
    );
  }
  for (const [id, count] of bought.pieces) {
    const offer = offers.get(id)!;
    const cut = used.get(id) ?? 0;
    const path = `buy[${entries.get(id)}]`;
    if (cut === 0) findings.add('CHECK_BUY', path, `"${id}", of which none is cut`);
    else if (costOf(offer, count) > leastCost(offer, cut)) {
      const found = `${count} for ${moneyText(costOf(offer, count))}`;
      findings.add('CHECK_COST', path, found, `${moneyText(leastCost(offer, cut))} for the ${cut} used`);
    }
  }
}
