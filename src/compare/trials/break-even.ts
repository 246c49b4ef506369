/**
 * At which price an offer changes the answer. As a function of one price p, the least cost is the lower envelope of lines,
 * one for each plan: rising, concave, with a kink where the best plan changes. The search goes from line to line (Eisner and Severance 1976,
 * Journal of the ACM 23). Each step plans again at the first whole cent at which no known plan undercuts the recommended
 * purchase: a cheaper plan is a new line and moves that cent on; a bound that excludes one ends the search. So both sides
 * of a price that is called proven have been planned, one cent apart.
 */

import type { BreakEven, PriceFound } from '../../documents/comparison/types.js';
import { moneyFromCents } from '../../documents/money.js';
import { purchase } from '../../stock/purchase.js';
import type { Cents, Offer } from '../../terms.js';
import type { KnownPlans } from '../known.js';
import { ask, type Made, NO_QUESTION, type OfferAnswer, type OfferInquiry } from '../question.js';
import { costMoved, first, last, moved, reach } from './prices.js';

const STEPS_MOST = 40;
const EFFORT = { effort: 880_000, share: 0.05 } as const;

export interface Market {
  readonly moulding: string;
  readonly offers: readonly Offer[];
  readonly known: KnownPlans;
  /** The recommended purchase, and whether it is proven to cost least. */
  readonly best: Made;
  readonly proven: boolean;
}

/** By how much the offer's prices move, and whether both sides of that point are proven. */
interface Move {
  readonly by: Cents;
  readonly proven: boolean;
}

class Line {
  readonly #market: Market;
  readonly #offer: Offer;
  readonly low: Cents;
  readonly high: Cents;
  readonly plans: Made[];
  readonly #pieces: number;

  constructor(market: Market, offer: Offer) {
    this.#market = market;
    this.#offer = offer;
    const { low, high } = reach(offer);
    this.low = low;
    this.high = high;
    this.plans = [...market.known.plans];
    this.#pieces = purchase(offer, market.best.used[offer.id] ?? 0).count;
  }

  cost(plan: Made, by: Cents): Cents {
    return costMoved(plan.used, this.#market.offers, this.#offer.id, by);
  }

  /** What the recommended purchase, the same pieces from the same price break, costs with the prices moved. */
  recommended(by: Cents): Cents {
    return this.#market.best.cost + this.#pieces * by;
  }

  /** Plans again with the prices moved, from all offers or this one alone: is there a plan below `below`? */
  *below(by: Cents, below: Cents, alone: boolean): OfferInquiry<OfferAnswer> {
    const { moulding, offers, known } = this.#market;
    const own = alone ? offers.filter(({ id }) => id === this.#offer.id) : offers;
    const asked = moved(own, this.#offer.id, by);
    const answer = yield* ask({
      ...NO_QUESTION,
      moulding,
      offers: asked,
      start: known.start(asked),
      above: below - 1,
      below,
      ...EFFORT,
    });
    if (answer.kind === 'made') {
      this.plans.push(answer);
      known.add(answer);
    }
    return answer;
  }
}

type PriceVerdict = 'cheaper' | 'none' | 'unknown';

function verdict(answer: OfferAnswer, below: Cents): PriceVerdict {
  if (answer.kind === 'none') return answer.proven ? 'none' : 'unknown';
  if (answer.cost < below) return 'cheaper';
  return answer.bound >= below ? 'none' : 'unknown';
}

/** The highest move at which this offer alone costs no more than `cost`. Null: at none. */
function* aloneTies(line: Line, offer: Offer, cost: Cents): OfferInquiry<Move | null> {
  const own = (plan: Made): boolean => Object.keys(plan.used).every((id) => id === offer.id);
  const tie = (plan: Made): number | null => last(line.low, line.high, (by) => line.cost(plan, by) <= cost);
  let best = Number.NEGATIVE_INFINITY;
  for (const plan of line.plans) if (own(plan)) best = Math.max(best, tie(plan) ?? best);
  for (let step = 0; step < STEPS_MOST; step++) {
    const next = best === Number.NEGATIVE_INFINITY ? line.low : best + 1;
    if (next > line.high) return { by: best, proven: true };
    const answer = yield* line.below(next, cost + 1, true);
    switch (verdict(answer, cost + 1)) {
      case 'cheaper':
        best = Math.max(next, tie(answer as Made) ?? next);
        break;
      case 'none':
        return best === Number.NEGATIVE_INFINITY ? null : { by: best, proven: true };
      case 'unknown':
        return best === Number.NEGATIVE_INFINITY ? null : { by: best, proven: false };
    }
  }
  return { by: best, proven: false };
}

/** The lowest move from which on no plan undercuts the recommended purchase. Null: from the lowest on. */
function* from(line: Line): OfferInquiry<Move | null> {
  for (let step = 0; step < STEPS_MOST; step++) {
    let at = line.low;
    for (const plan of line.plans) {
      const under = last(line.low, 0, (by) => line.cost(plan, by) < line.recommended(by));
      if (under !== null) at = Math.max(at, under + 1);
    }
    const below = line.recommended(at);
    const found = verdict(yield* line.below(at, below, false), below);
    if (found !== 'cheaper') {
      return at === line.low && found === 'none' ? null : { by: at, proven: found === 'none' };
    }
  }
  return { by: 0, proven: false };
}

/** The highest move up to which no plan undercuts the recommended purchase. Null: however high. */
function* to(line: Line): OfferInquiry<Move | null> {
  for (let step = 0; step < STEPS_MOST; step++) {
    let at = line.high;
    for (const plan of line.plans) {
      const under = first(0, line.high, (by) => line.cost(plan, by) < line.recommended(by));
      if (under !== null) at = Math.min(at, under - 1);
    }
    const below = line.recommended(at);
    const found = verdict(yield* line.below(at, below, false), below);
    if (found !== 'cheaper') {
      return at === line.high && found === 'none' ? null : { by: at, proven: found === 'none' };
    }
  }
  return { by: 0, proven: false };
}

export function* breakEven(market: Market, offer: Offer): OfferInquiry<BreakEven> {
  const { best, proven } = market;
  const line = new Line(market, offer);
  const priced = (move: Move | null): PriceFound | null =>
    move && { price: moneyFromCents(offer.price + move.by), proven: move.proven };
  const bought = best.used[offer.id] !== undefined;
  const alone = Object.keys(best.used).every((id) => id === offer.id);
  const tie = bought && alone ? null : yield* aloneTies(line, offer, best.cost);
  const common = { offer: offer.id, price: moneyFromCents(offer.price), bought, aloneTies: priced(tie) };
  if (!proven) return { ...common, from: null, to: null, known: false };
  // A dearer price of an offer that is not bought changes nothing: the recommended purchase costs the same, no other less.
  return {
    ...common,
    from: priced(yield* from(line)),
    to: bought ? priced(yield* to(line)) : null,
    known: true,
  };
}
