/** What is advised on the ground of the scenarios: what to buy, and the prices between which that stays so. */
import type { BreakEven, PriceFound } from '../../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents, moneyText } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import type { Cents, Offer } from '../../terms.js';
import {
  type CompleteScenario,
  cheapest,
  complete,
  type OnMoulding,
  priceOf,
  sumOf,
  within,
} from './context.js';
import { checkBuys } from './scenarios.js';

function money(cents: Cents | null): number | null {
  return cents === null ? null : moneyFromCents(cents);
}

export function checkRecommendation(on: OnMoulding): void {
  const { part } = on;
  const { sentence, offers, buy, cost, bound, nextBest, saves, savesAtLeast } = part.recommendation;
  const add = (key: string, found: unknown, holds: unknown): void => {
    if (found !== holds) on.add('CHECK_RECOMMENDED', `recommendation.${key}`, found, holds);
  };
  const all = complete(on);
  const least = cheapest(all);
  add('cost', cost, money(least));
  if (cost === null) {
    // Where a search ended too soon, nobody knows that no purchase will do.
    const known = part.scenarios.every(({ short }) => short?.why !== 'unknown');
    add('sentence', sentence.includes('no purchase of what is offered makes'), known);
    add('offers', offers.length + buy.length, 0);
    return;
  }
  checkBuys(
    on,
    buy,
    on.offers.map(({ id }) => id),
    'recommendation',
  );
  if (sumOf(buy) !== centsFromMoney(cost)) add('buy', moneyFromCents(sumOf(buy)), cost);
  add(
    'offers',
    [...offers].sort().join(),
    buy
      .map(({ offer }) => offer)
      .sort()
      .join(),
  );
  const known = all.some((one) => JSON.stringify(one.buy) === JSON.stringify(buy));
  if (!known) add('buy', JSON.stringify(buy), 'the purchase of a scenario');
  const largest = all.reduce<CompleteScenario | null>(
    (most, one) => (most === null || one.offers.length > most.offers.length ? one : most),
    null,
  );
  add('bound', bound, largest === null ? 0 : Math.min(cost, largest.proof.bound));
  const others = buy.length === 0 ? [] : all.filter((one) => !within(offers, one.offers));
  const next = others.find((one) => JSON.stringify(one.offers) === JSON.stringify(nextBest));
  const due = cheapest(others);
  if (due === null) add('nextBest', nextBest, null);
  else if (next === undefined || centsFromMoney(next.proof.value) !== due) {
    add('nextBest', JSON.stringify(nextBest), `the cheapest of the others, for ${moneyFromCents(due)}`);
  }
  const gain = (of: number): number => moneyFromCents(Math.max(0, centsFromMoney(of) - centsFromMoney(cost)));
  add('saves', saves, next === undefined ? null : gain(next.proof.value));
  add('savesAtLeast', savesAtLeast, next === undefined ? null : gain(next.proof.bound));
  const told = [
    ...(on.comparison.measure === 'cost' && buy.length > 0 ? [moneyText(centsFromMoney(cost))] : []),
    ...buy.map(({ count, offer }) => `${count} × ${offer} `),
  ];
  if (!sentence.startsWith(`${on.moulding.id}: `) || told.some((text) => !sentence.includes(text))) {
    add('sentence', sentence, told.join(', '));
  }
}

/** What a purchase costs with one offer's prices moved, as many pieces as before. */
function moved(offers: readonly Offer[], buy: readonly PlannedPurchase[], id: string, by: Cents): Cents {
  return buy.reduce((sum, { offer: name, count }) => {
    const offer = offers.find((one) => one.id === name);
    return sum + (offer === undefined ? 0 : priceOf(offer, count, name === id ? by : 0));
  }, 0);
}

function checkPrice(
  on: OnMoulding,
  one: BreakEven,
  offer: Offer,
  found: PriceFound | null,
  at: string,
): void {
  if (found === null) return;
  const by = centsFromMoney(found.price) - offer.price;
  const own = moved(on.offers, on.part.recommendation.buy, one.offer, by);
  for (const other of complete(on)) {
    const cost = moved(on.offers, other.buy, one.offer, by);
    if (cost >= own) continue;
    const holds = `the recommended purchase no dearer than ${other.offers.join(', ')}: ${moneyFromCents(own)} and ${moneyFromCents(cost)}`;
    on.add('CHECK_PRICES', at, found.price, holds);
    return;
  }
}

function checkTie(on: OnMoulding, one: BreakEven, offer: Offer, at: string): void {
  const { buy, cost, offers } = on.part.recommendation;
  const alone = complete(on).find((other) => other.kind === 'one' && other.offers[0] === one.offer);
  const only = one.bought && offers.length === 1;
  if (alone === undefined || cost === null || only) {
    if (only && one.aloneTies !== null)
      on.add('CHECK_PRICES', at, one.aloneTies.price, 'null: it is bought alone');
    return;
  }
  const costAt = (price: number): Cents =>
    moved(on.offers, alone.buy, one.offer, centsFromMoney(price) - offer.price);
  const most = sumOf(buy);
  if (one.aloneTies === null) {
    const lowest = Math.min(offer.price, ...offer.breaks.map(({ price }) => price));
    if (costAt(moneyFromCents(offer.price - lowest)) <= most) on.add('CHECK_PRICES', at, 'null', 'a price');
    return;
  }
  // The purchase known of it alone is one way to buy; a price a cent higher may not leave that one as cheap.
  // Where it is proven to take the fewest pieces, none is cheaper alone.
  const { price } = one.aloneTies;
  const fewest = alone.proof.status === 'optimal' && offer.breaks.length === 0;
  if (costAt(price + 0.01) <= most || (fewest && costAt(price) > most)) {
    const holds = `the highest at which it costs no more alone than ${moneyFromCents(most)}`;
    on.add('CHECK_PRICES', at, price, holds);
  }
}

export function checkPrices(on: OnMoulding): void {
  const { part, offers } = on;
  const { buy, cost, bound } = part.recommendation;
  const proven = cost !== null && bound !== null && bound >= cost;
  part.breakEven.forEach((one, b) => {
    const at = `breakEven[${b}]`;
    const offer = offers.find(({ id }) => id === one.offer);
    const add = (key: string, found: unknown, holds: unknown): void => {
      if (found !== holds) on.add('CHECK_PRICES', `${at}.${key}`, found, holds);
    };
    if (offer === undefined || part.breakEven.findIndex((other) => other.offer === one.offer) !== b) {
      on.add('CHECK_PRICES', `${at}.offer`, one.offer, 'an offer of the moulding, once');
      return;
    }
    add('price', one.price, moneyFromCents(offer.price));
    add(
      'bought',
      one.bought,
      buy.some((purchase) => purchase.offer === one.offer),
    );
    add('known', one.known, proven);
    if (!proven) add('from', one.from ?? one.to, null);
    if (!one.bought) add('to', one.to, null);
    if (one.from !== null && one.from.price > one.price) add('from', one.from.price, `up to ${one.price}`);
    if (one.to !== null && one.to.price < one.price) add('to', one.to.price, `from ${one.price}`);
    checkPrice(on, one, offer, one.from, `${at}.from`);
    checkPrice(on, one, offer, one.to, `${at}.to`);
    checkTie(on, one, offer, `${at}.aloneTies`);
  });
  if (part.breakEven.length > 0 && part.breakEven.length !== offers.length) {
    on.add('CHECK_PRICES', 'breakEven', part.breakEven.length, `${offers.length}, one an offer`);
  }
}
