/** What is said on the ground of the scenarios: the recommendation, prices, other conditions, growing orders, the rule of thumb. */
import type { BreakEven, PriceFound, Scenario } from '../../documents/comparison/types.js';
import { centsFromMoney, moneyFromCents, moneyText } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import { toNumber } from '../../lengths/exact.js';
import { mmFromUm } from '../../lengths/units.js';
import type { Cents, FrameLine, Moulding, Offer } from '../../terms.js';
import { type OnMoulding, priceOf, sumOf, within } from './context.js';
import { checkBuys } from './scenarios.js';

type Complete = Scenario & { readonly proof: NonNullable<Scenario['proof']> };

function complete({ part }: OnMoulding): readonly Complete[] {
  return part.scenarios.filter((one): one is Complete => one.proof !== null);
}

function cheapest(all: readonly Complete[]): Cents | null {
  return all.length === 0 ? null : Math.min(...all.map(({ proof }) => centsFromMoney(proof.value)));
}

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
  const largest = all.reduce<Complete | null>(
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

export function checkConditions(on: OnMoulding): void {
  const { part, batch, offers } = on;
  const { cost: recommended } = part.recommendation;
  part.whatIf.forEach((one, w) => {
    const at = `whatIf[${w}]`;
    const add = (key: string, found: unknown, holds: unknown): void => {
      if (found !== holds) on.add('CHECK_SCENARIO', `${at}.${key}`, found, holds);
    };
    const { maxLength, shortBy } = batch.options;
    const asked = { maxLength, shortBy, singlePieces: null }[one.what];
    add('length', one.length, asked === null ? null : mmFromUm(asked));
    if (one.what !== 'shortBy') add('stillEnough', one.stillEnough, null);
    if (one.status === 'short') {
      add('cost', one.cost ?? one.bound ?? one.difference, null);
      add('buy', one.buy.length, 0);
      return;
    }
    const single = one.what === 'singlePieces';
    const own = single ? offers.map((offer) => ({ ...offer, pack: 1, breaks: [] })) : offers;
    const may =
      one.what === 'maxLength' && maxLength !== null ? own.filter(({ length }) => length <= maxLength) : own;
    checkBuys(
      { ...on, offers: may },
      one.buy,
      may.map(({ id }) => id),
      at,
    );
    add('cost', one.cost, moneyFromCents(sumOf(one.buy)));
    const difference =
      recommended === null ? null : moneyFromCents(sumOf(one.buy) - centsFromMoney(recommended));
    add('difference', one.difference, difference);
    if (!(one.bound !== null && one.cost !== null && one.bound >= 0 && one.bound <= one.cost)) {
      on.add('CHECK_BOUND', `${at}.bound`, one.bound, `from 0 to ${one.cost}`);
    }
  });
}

export function checkGrowth(on: OnMoulding): void {
  const { part, batch, offers } = on;
  part.growth.forEach((one, g) => {
    const at = `growth[${g}]`;
    const add = (key: string, found: unknown, holds: unknown): void => {
      if (found !== holds) on.add('CHECK_SCENARIO', `${at}.${key}`, found, holds);
    };
    if (!batch.options.grow.includes(one.times)) add('times', one.times, batch.options.grow.join(' or '));
    const made = one.scenarios.filter(({ status }) => status === 'complete');
    made.forEach(({ cost, bound }, s) => {
      if (bound === null || cost === null || bound > cost)
        on.add('CHECK_BOUND', `${at}.scenarios[${s}].bound`, bound, `up to ${cost}`);
    });
    const least =
      made.length === 0 ? null : Math.min(...made.map(({ cost }) => cost ?? Number.POSITIVE_INFINITY));
    add('cost', one.cost, least);
    if ((one.status === 'complete') !== (least !== null))
      add('status', one.status, least === null ? 'short' : 'complete');
    if (least === null) return;
    checkBuys(
      on,
      one.buy,
      offers.map(({ id }) => id),
      at,
    );
    add('buy', moneyFromCents(sumOf(one.buy)), least);
    add(
      'offers',
      [...one.offers].sort().join(),
      one.buy
        .map(({ offer }) => offer)
        .sort()
        .join(),
    );
    add('costPerOrder', one.costPerOrder, Number((least / one.times).toFixed(4)));
    if (!(one.bound !== null && one.bound >= 0 && one.bound <= least))
      on.add('CHECK_BOUND', `${at}.bound`, one.bound, `from 0 to ${least}`);
    const alone = made.filter(({ kind }) => kind === 'one');
    const best = Math.min(...alone.map(({ cost }) => cost ?? Number.POSITIVE_INFINITY));
    const named = alone.some(({ cost, offers: ids }) => cost === best && ids[0] === one.bestAlone);
    if (alone.length === 0 ? one.bestAlone !== null : !named)
      add('bestAlone', one.bestAlone, 'the cheapest offer alone');
    if (!(one.yield === null || (one.yield > 0 && one.yield <= 1)))
      add('yield', one.yield, 'above 0, up to 1');
  });
}

/** 2(w+h) + 8·face, or n·(side + 2·face·tan θ); nothing is added to an outside size. */
function ruleOfThumb({ shape, measuredBy }: FrameLine, { face }: Moulding): number {
  const n = shape.kind === 'regular' ? shape.sides : 4;
  const around =
    shape.kind === 'regular'
      ? n * toNumber(shape.side)
      : 2 * (toNumber(shape.width) + toNumber(shape.height));
  const tan = n === 4 ? 1 : Math.tan(Math.PI / n);
  return around + (measuredBy === 'outside' ? 0 : 2 * n * toNumber(face) * tan);
}

const WASTE_SHARE = 0.15;

export function checkFootage(on: OnMoulding): void {
  const { part, lines, moulding, offers } = on;
  const { net, wasteShare, length, planned, off, sticks } = part.footage;
  const due = lines.reduce((sum, line) => sum + line.quantity * ruleOfThumb(line, moulding), 0);
  const add = (key: string, found: unknown, holds: unknown, right: boolean): void => {
    if (!right) on.add('CHECK_FIGURES', `footage.${key}`, found, holds);
  };
  const near = (found: number, um: number): boolean => Math.abs(found * 1_000 - um) <= 1;
  add('net', net, due / 1_000, near(net, due));
  add('wasteShare', wasteShare, WASTE_SHARE, wasteShare === WASTE_SHARE);
  add('length', length, (due * (1 + WASTE_SHARE)) / 1_000, near(length, due * (1 + WASTE_SHARE)));
  const best = complete(on).find(
    (one) => JSON.stringify(one.buy) === JSON.stringify(part.recommendation.buy),
  );
  const stock = best?.figures?.stockLength ?? 0;
  add('planned', planned, stock, planned === stock);
  const over = planned === 0 ? null : (due * (1 + WASTE_SHARE)) / 1_000 / planned - 1;
  add('off', off, over, over === null ? off === null : off !== null && Math.abs(off - over) <= 0.000_051);
  const alone = complete(on).filter(({ kind }) => kind === 'one');
  const least = cheapest(alone);
  const own = alone.find((one) => one.offers[0] === sticks?.offer);
  if (sticks === null) return add('sticks', 'null', 'sticks of an offer', least === null);
  const offer = offers.find(({ id }) => id === sticks.offer);
  add(
    'sticks.offer',
    sticks.offer,
    'the cheapest alone',
    own !== undefined && centsFromMoney(own.proof.value) === least,
  );
  const rule = Math.ceil((due * (1 + WASTE_SHARE)) / (offer?.length ?? 1));
  add('sticks.rule', sticks.rule, rule, sticks.rule === rule);
  add('sticks.planned', sticks.planned, own?.figures?.sticks, sticks.planned === own?.figures?.sticks);
}

export function checkSpare(on: OnMoulding): void {
  const { part, batch, offers } = on;
  const { spare } = part;
  if (spare === null) return;
  const add = (key: string, found: unknown, holds: unknown, right: boolean): void => {
    if (!right) on.add('CHECK_FIGURES', `spare.${key}`, found, holds);
  };
  const pieces = part.recommendation.buy.reduce((sum, { count }) => sum + count, 0);
  add('share', spare.share, batch.options.spare, spare.share === batch.options.spare);
  add('seed', spare.seed, batch.options.seed, spare.seed === batch.options.seed);
  add('pieces', spare.pieces, pieces, spare.pieces === pieces);
  add(
    'runs',
    spare.runs,
    'more than are undecided',
    spare.runs > 0 && spare.undecided >= 0 && spare.undecided <= spare.runs,
  );
  const bought = part.recommendation.buy.map(({ offer }) => offer);
  add(
    'more',
    spare.more.join(),
    bought.join(),
    within(spare.more, bought) &&
      within(
        spare.more,
        offers.map(({ id }) => id),
      ),
  );
  spare.odds.forEach((one, i) => {
    const before = spare.odds[i - 1];
    const grows =
      before === undefined
        ? one.pieces === pieces
        : one.pieces === before.pieces + 1 && one.of100 >= before.of100;
    add(
      `odds[${i}]`,
      `${one.pieces}: ${one.of100}`,
      'a piece more, no worse',
      grows && one.of100 >= 0 && one.of100 <= 100,
    );
  });
  spare.levels.forEach(({ of100, pieces: enough }, i) => {
    const due = spare.odds.find((one) => one.of100 >= of100)?.pieces ?? null;
    add(`levels[${i}]`, enough, due, enough === due);
  });
}
