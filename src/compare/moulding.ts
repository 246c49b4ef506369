/** The comparison of one moulding, as the questions it takes. */

import type {
  BreakEven,
  MouldingComparison,
  Recommendation,
  Scenario,
  WhatIf,
} from '../documents/comparison/types.js';
import { moneyFromCents } from '../documents/money.js';
import { umFromMm } from '../lengths/units.js';
import { RAILS } from '../read/limits.js';
import type { Order } from '../stock/lines.js';
import type { Batch, Cents, Offer } from '../terms.js';
import { choose, type OfferChoice } from './choose.js';
import { type OfferInquiry, together } from './question.js';
import { sentenceOf } from './sentence.js';
import { breakEven, type Market } from './trials/break-even.js';
import { footageOf } from './trials/footage.js';
import { grow, grown, railsIn } from './trials/growth.js';
import { type Trials, type Tried, tryScenarios } from './trials/scenarios.js';
import { spareSticks } from './trials/spare.js';
import { carriedUpTo, inSinglePieces, purchases, type Situation, shorter } from './trials/what-if.js';

/** What the batch's total and the choice of suppliers need besides the document. */
export interface Compared {
  readonly document: MouldingComparison;
  readonly notices: readonly string[];
}

function scenario(moulding: string, offers: readonly Offer[], tried: Tried): Scenario {
  const { kind, offers: ids, supplier, plan, planOf, bound, excluded, short } = tried;
  const common = { kind, offers: ids, supplier };
  if (plan === null) {
    return { ...common, status: 'short', short, proof: null, planOf: null, buy: [], figures: null };
  }
  const open = bound > 0 ? (excluded ? 'excluded' : 'within') : 'unproven';
  return {
    ...common,
    status: 'complete',
    short: null,
    proof: {
      status: bound >= plan.cost ? 'optimal' : open,
      value: moneyFromCents(plan.cost),
      bound: moneyFromCents(bound),
    },
    planOf,
    buy: purchases(moulding, offers, plan.used),
    figures: plan.figures,
  };
}

function recommendation(
  batch: Batch,
  order: Order,
  priced: boolean,
  choice: OfferChoice | null,
  prices: readonly BreakEven[],
  tried: readonly Tried[],
): Recommendation {
  const { moulding, offers } = order;
  if (choice === null) {
    const unknown = tried.some(({ short }) => short?.why === 'unknown');
    const sentence = sentenceOf(batch, priced, moulding.id, offers, null, [], unknown);
    return {
      sentence,
      offers: [],
      buy: [],
      cost: null,
      bound: null,
      nextBest: null,
      saves: null,
      savesAtLeast: null,
    };
  }
  const { best, bound, next } = choice;
  const saves = (cost: Cents): number => moneyFromCents(Math.max(0, cost - best.cost));
  return {
    sentence: sentenceOf(batch, priced, moulding.id, offers, choice, prices),
    offers: choice.offers,
    buy: purchases(moulding.id, offers, best.used),
    cost: moneyFromCents(best.cost),
    bound: moneyFromCents(bound),
    nextBest: next?.offers ?? null,
    saves: next && saves(next.plan!.cost),
    savesAtLeast: next && saves(next.bound),
  };
}

function* whatIfs(batch: Batch, situation: Situation): OfferInquiry<WhatIf[]> {
  const { maxLength, shortBy } = batch.options;
  const lines: OfferInquiry<WhatIf>[] = [];
  if (maxLength !== null) lines.push(carriedUpTo(situation, maxLength));
  if (situation.offers.some(({ pack, breaks }) => pack > 1 || breaks.length > 0)) {
    lines.push(inSinglePieces(situation));
  }
  if (shortBy !== null) lines.push(shorter(situation, shortBy));
  return yield* together(lines);
}

/** Prices are only looked into where the offers have prices and something is bought. */
function* prices(market: Market, priced: boolean): OfferInquiry<BreakEven[]> {
  if (!priced) return [];
  return yield* together(market.offers.map((offer) => breakEven(market, offer)));
}

function* growth(batch: Batch, order: Order, base: Trials) {
  const { moulding, offers } = order;
  const rails = railsIn(batch, order);
  const times = batch.options.grow.filter((one) => one * rails <= RAILS);
  const found = [];
  for (const one of times) {
    found.push(one === 1 ? grown(moulding.id, offers, 1, base) : yield* grow(batch, order, one));
  }
  return found;
}

function noticesOf(batch: Batch, order: Order, { paired }: Trials): string[] {
  const { moulding } = order;
  const rails = railsIn(batch, order);
  const dropped = batch.options.grow.filter((one) => one * rails > RAILS);
  return [
    ...(paired === null
      ? []
      : [`${moulding.id}: pairs were tried among the ${paired} offers cheapest alone`]),
    ...dropped.map(
      (one) => `${moulding.id}: ${one} times the order is more than ${RAILS} rails; not compared`,
    ),
  ];
}

export interface ComparisonWants {
  /** The offers have prices of their own. */
  readonly priced: boolean;
  /** Whether to find the prices at which the answer changes. */
  readonly breakEven: boolean;
}

/** The moulding has frames to make and offers to choose from. */
export function* compareMoulding(batch: Batch, order: Order, asked: ComparisonWants): OfferInquiry<Compared> {
  const { moulding, offers, lines } = order;
  const { priced } = asked;
  const trials = yield* tryScenarios({
    moulding: moulding.id,
    offers,
    times: 1,
    lines: lines.length,
    rails: railsIn(batch, order),
  });
  const { tried, known } = trials;
  const choice = choose(tried);
  const notices = noticesOf(batch, order, trials);
  const scenarios = tried.map((one) => scenario(moulding.id, offers, one));
  const alone = tried.filter(({ kind, plan }) => kind === 'one' && plan !== null);
  const [cheapest] = [...alone].sort((a, b) => a.plan!.cost - b.plan!.cost);
  const planned = umFromMm(choice?.best.figures?.stockLength ?? 0);
  const footage = footageOf(batch, moulding, offers, planned, cheapest ?? null);
  const document = (
    even: MouldingComparison['breakEven'],
    rest: Pick<MouldingComparison, 'whatIf' | 'spare' | 'growth'>,
  ): MouldingComparison => ({
    moulding: moulding.id,
    status: choice === null ? 'short' : 'complete',
    recommendation: recommendation(batch, order, priced, choice, even, tried),
    scenarios,
    breakEven: even,
    whatIf: rest.whatIf,
    spare: rest.spare,
    growth: rest.growth,
    footage,
  });
  if (choice === null) return { document: document([], { whatIf: [], spare: null, growth: [] }), notices };
  const { best } = choice;
  const market = { moulding: moulding.id, offers, known, best, proven: choice.bound >= best.cost };
  const even = yield* prices(market, priced && asked.breakEven && choice.offers.length > 0);
  const whatIf = yield* whatIfs(batch, market);
  const { spare: share, seed } = batch.options;
  const grownOrders = yield* growth(batch, order, trials);
  const spare = share === null ? null : yield* spareSticks(market, share, seed);
  return { document: document(even, { whatIf, spare, growth: grownOrders }), notices };
}
