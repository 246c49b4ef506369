/** The recommendation in one sentence: what to buy, what it costs, what it saves, how sure. */

import type { BreakEven } from '../documents/comparison/types.js';
import { moneyFromCents, moneyText } from '../documents/money.js';
import { UM_PER_INCH, UM_PER_MM } from '../lengths/units.js';
import { purchase } from '../stock/purchase.js';
import type { Batch, Offer } from '../terms.js';
import { money, named, percent, STUCK } from '../text/page.js';
import { Words } from '../words/words.js';
import type { OfferChoice } from './choose.js';

function sure({ best, bound }: OfferChoice): string {
  if (bound >= best.cost) return 'proven: no purchase costs less';
  if (bound === 0) return 'not proven';
  return `within ${percent((best.cost - bound) / best.cost, 2)} of what is proven to be needed`;
}

/** The price range of each offer bought within which the recommendation stays, other prices unchanged; where proven. */
function holds(prices: readonly BreakEven[]): string {
  const ranges = prices.flatMap(({ offer, bought, known, from, to }) => {
    if (!bought || !known || from?.proven === false || to?.proven === false) return [];
    if (from === null && to === null) return [];
    if (from === null) return [`${offer} costs ${money(to!.price)} or less`];
    if (to === null) return [`${offer} costs ${money(from.price)} or more`];
    return [`${offer} costs ${money(from.price)} to ${money(to.price)}`];
  });
  return ranges.length === 0 ? '' : `; it stays so while ${ranges.join(', or ')}`;
}

/** Money, or, where the offers have no prices, the length of the sticks bought in its place. */
function amount(batch: Batch, priced: boolean, cents: number): string {
  if (priced) return moneyText(cents);
  const each = batch.units === 'in' ? UM_PER_INCH : UM_PER_MM;
  return `${new Words(batch).long(moneyFromCents(cents) * Number(each))} of stick`.replaceAll(STUCK, ' ');
}

/** `choice` null: no purchase makes the order, or with `unknown` none was found in time. */
export function sentenceOf(
  batch: Batch,
  priced: boolean,
  moulding: string,
  offers: readonly Offer[],
  choice: OfferChoice | null,
  prices: readonly BreakEven[],
  unknown = false,
): string {
  if (choice === null) {
    return unknown
      ? `${moulding}: no purchase was found in the time there was; whether one makes this order is not known.`
      : `${moulding}: no purchase of what is offered makes this order.`;
  }
  const { best, next } = choice;
  const words = new Words(batch);
  const buy = offers.flatMap((offer) => {
    const used = best.used[offer.id] ?? 0;
    return used === 0 ? [] : [`${purchase(offer, used).count} × ${offer.id} (${words.stock(offer.length)})`];
  });
  if (buy.length === 0) return `${moulding}: buy nothing, the rack makes this order.`;
  const cost = amount(batch, priced, best.cost);
  const saved = next === null ? 0 : next.plan!.cost - best.cost;
  const only = next === null ? 'nothing else that is offered makes it' : null;
  const less = saved === 0 ? 'as much as' : `${amount(batch, priced, saved)} less than`;
  const against = only ?? `${less} the next best, ${named(next!.offers)}`;
  return `${moulding}: buy ${named(buy)} for ${cost}, ${against}; ${sure(choice)}${holds(prices)}.`;
}
