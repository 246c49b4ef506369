/** The order under other conditions: shorter sticks, a limit to what can be carried, single pieces at the single price. */

import type { WhatIf } from '../../documents/comparison/types.js';
import { moneyFromCents } from '../../documents/money.js';
import type { PlannedPurchase } from '../../documents/plan/types.js';
import { mmFromUm } from '../../lengths/units.js';
import { purchase } from '../../stock/purchase.js';
import type { Cents, Offer, RackEntry, Um } from '../../terms.js';
import type { KnownPlans } from '../known.js';
import {
  ask,
  type Made,
  type NamedPattern,
  NO_QUESTION,
  type OfferAnswer,
  type OfferInquiry,
  type OfferQuestion,
} from '../question.js';

const EFFORT = { effort: 880_000, share: 0.1 } as const;

export interface Situation {
  readonly moulding: string;
  readonly offers: readonly Offer[];
  readonly known: KnownPlans;
  readonly best: Made;
}

export function purchases(moulding: string, offers: readonly Offer[], used: Made['used']): PlannedPurchase[] {
  return offers.flatMap((offer) => {
    const pieces = used[offer.id] ?? 0;
    if (pieces === 0) return [];
    const { count, cost } = purchase(offer, pieces);
    return [{ moulding, offer: offer.id, count, cost: moneyFromCents(cost) }];
  });
}

function change(
  what: WhatIf['what'],
  length: Um | null,
  situation: Situation,
  offers: readonly Offer[],
  answer: OfferAnswer,
): WhatIf {
  const common = { what, length: length === null ? null : mmFromUm(length), stillEnough: null };
  if (answer.kind === 'none') {
    return { ...common, status: 'short', buy: [], cost: null, bound: null, difference: null };
  }
  const difference: Cents = answer.cost - situation.best.cost;
  return {
    ...common,
    status: 'complete',
    buy: purchases(situation.moulding, offers, answer.used),
    cost: moneyFromCents(answer.cost),
    bound: moneyFromCents(answer.bound),
    difference: moneyFromCents(difference),
  };
}

function question({ moulding, known }: Situation, offers: readonly Offer[]): OfferQuestion {
  return { ...NO_QUESTION, moulding, offers, start: known.start(offers), ...EFFORT };
}

const NOTHING: OfferAnswer = { kind: 'none', proven: true, tooLong: [] };

export function* carriedUpTo(situation: Situation, most: Um): OfferInquiry<WhatIf> {
  const offers = situation.offers.filter(({ length }) => length <= most);
  const answer = offers.length === 0 ? NOTHING : yield* ask(question(situation, offers));
  return change('maxLength', most, situation, offers, answer);
}

export function* inSinglePieces(situation: Situation): OfferInquiry<WhatIf> {
  const offers = situation.offers.map((offer) => ({ ...offer, pack: 1, breaks: [] }));
  return change('singlePieces', null, situation, offers, yield* ask(question(situation, offers)));
}

/** Whether the rack and these sticks make the order. */
export function enoughOf(
  moulding: string,
  rack: readonly RackEntry[],
  start: readonly NamedPattern[],
): OfferQuestion {
  const below = Number.POSITIVE_INFINITY;
  return { ...NO_QUESTION, moulding, offers: [], rack, start, below, effort: 90_000, share: 0.02 };
}

/** Null: not known. */
function isEnough(answer: OfferAnswer): boolean | null {
  return answer.kind === 'made' ? true : answer.proven ? false : null;
}

export function* enough(asked: OfferQuestion): OfferInquiry<boolean | null> {
  return isEnough(yield* ask(asked));
}

/** Whether the pieces bought still make the order when their offers are like this. */
function stillDo({ moulding, offers: whole, best }: Situation, offers: readonly Offer[]): OfferQuestion {
  const counts = new Map(purchases(moulding, whole, best.used).map(({ offer, count }) => [offer, count]));
  const bought = offers.flatMap((offer) => {
    const available = counts.get(offer.id);
    return available === undefined ? [] : [{ ...offer, available }];
  });
  return { ...enoughOf(moulding, [], []), offers: bought };
}

/** If the recommended pieces still make the order, their plan is handed on, so the answer costs no more than they do. */
export function* shorter(situation: Situation, by: Um): OfferInquiry<WhatIf> {
  const offers = situation.offers.flatMap((offer) =>
    offer.length > by ? [{ ...offer, length: offer.length - by }] : [],
  );
  const still = yield* ask(stillDo(situation, offers));
  const asked = question(situation, offers);
  const start =
    still.kind === 'made'
      ? [...still.patterns, ...asked.start.map((pattern) => ({ ...pattern, count: 0 }))]
      : asked.start;
  const answer = offers.length === 0 ? NOTHING : yield* ask({ ...asked, start });
  return { ...change('shortBy', by, situation, offers, answer), stillEnough: isEnough(still) };
}
