/** The order under other conditions: shorter sticks, a limit to what can be carried, single pieces at the single price. */
import { mm, money } from '../plan/measure.js';
import type { Purchase } from '../plan/types.js';
import { purchase } from '../stock/purchase.js';
import type { Cents, Offer, RackEntry, Um } from '../terms.js';
import type { Known } from './known.js';
import {
  type Answer,
  type Asking,
  ask,
  type Made,
  type NamedPattern,
  NO_QUESTION,
  type Question,
} from './question.js';
import type { WhatIf } from './types.js';

const EFFORT = { effort: 400, share: 0.1 } as const;

export interface Situation {
  readonly moulding: string;
  readonly offers: readonly Offer[];
  readonly known: Known;
  readonly best: Made;
}

export function purchases(moulding: string, offers: readonly Offer[], used: Made['used']): Purchase[] {
  return offers.flatMap((offer) => {
    const pieces = used[offer.id] ?? 0;
    if (pieces === 0) return [];
    const { count, cost } = purchase(offer, pieces);
    return [{ moulding, offer: offer.id, count, cost: money(cost) }];
  });
}

function change(
  what: WhatIf['what'],
  length: Um | null,
  situation: Situation,
  offers: readonly Offer[],
  answer: Answer,
): WhatIf {
  const common = { what, length: length === null ? null : mm(length), stillEnough: null };
  if (answer.kind === 'none') {
    return { ...common, status: 'short', buy: [], cost: null, bound: null, difference: null };
  }
  const difference: Cents = answer.cost - situation.best.cost;
  return {
    ...common,
    status: 'complete',
    buy: purchases(situation.moulding, offers, answer.used),
    cost: money(answer.cost),
    bound: money(answer.bound),
    difference: money(difference),
  };
}

function question({ moulding, known }: Situation, offers: readonly Offer[]): Question {
  return { ...NO_QUESTION, moulding, offers, start: known.start(offers), ...EFFORT };
}

const NOTHING: Answer = { kind: 'none', proven: true, tooLong: [] };

export function* carriedUpTo(situation: Situation, most: Um): Asking<WhatIf> {
  const offers = situation.offers.filter(({ length }) => length <= most);
  const answer = offers.length === 0 ? NOTHING : yield* ask(question(situation, offers));
  return change('maxLength', most, situation, offers, answer);
}

export function* inSinglePieces(situation: Situation): Asking<WhatIf> {
  const offers = situation.offers.map((offer) => ({ ...offer, pack: 1, breaks: [] }));
  return change('singlePieces', null, situation, offers, yield* ask(question(situation, offers)));
}

/** The pieces bought, as if they lay on the rack. */
export function asRack(moulding: string, buy: readonly Purchase[], offers: readonly Offer[]): RackEntry[] {
  return buy.map(({ offer, count }) => ({
    id: `bought ${offer}`,
    moulding,
    length: offers.find(({ id }) => id === offer)!.length,
    quantity: count,
    flaws: [],
    value: null,
  }));
}

/** Whether the rack with these sticks makes the order. */
export function enoughOf(
  moulding: string,
  rack: readonly RackEntry[],
  start: readonly NamedPattern[],
): Question {
  const below = Number.POSITIVE_INFINITY;
  return { ...NO_QUESTION, moulding, offers: [], rack, start, below, effort: 40, share: 0.02 };
}

/** Null: not known. */
export function* enough(asked: Question): Asking<boolean | null> {
  const answer = yield* ask(asked);
  if (answer.kind === 'made') return true;
  return answer.proven ? false : null;
}

export function* shorter(situation: Situation, by: Um): Asking<WhatIf> {
  const { moulding } = situation;
  const offers = situation.offers.flatMap((offer) =>
    offer.length > by ? [{ ...offer, length: offer.length - by }] : [],
  );
  const found =
    offers.length === 0
      ? change('shortBy', by, situation, offers, NOTHING)
      : change('shortBy', by, situation, offers, yield* ask(question(situation, offers)));
  const bought = purchases(moulding, situation.offers, situation.best.used);
  const left = bought.filter(({ offer }) => offers.some(({ id }) => id === offer));
  return { ...found, stillEnough: yield* enough(enoughOf(moulding, asRack(moulding, left, offers), [])) };
}
