/** The same comparison for the order several times over. */

import type { Growth } from '../../documents/comparison/types.js';
import { moneyFromCents } from '../../documents/money.js';
import { sidesOf } from '../../rails/rails.js';
import type { Order } from '../../stock/lines.js';
import type { Batch, Offer } from '../../terms.js';
import { choose } from '../choose.js';
import type { OfferInquiry } from '../question.js';
import { type Trials, tryScenarios } from './scenarios.js';
import { purchases } from './what-if.js';

/** Rails of the order made once. */
export function railsIn(batch: Batch, { lines }: Order): number {
  return lines.reduce((sum, line) => {
    const frame = batch.frames[line]!;
    return sum + frame.quantity * sidesOf(frame);
  }, 0);
}

export function grown(moulding: string, offers: readonly Offer[], times: number, { tried }: Trials): Growth {
  const choice = choose(tried);
  const alone = tried.filter(({ kind, plan }) => kind === 'one' && plan !== null);
  const [bestAlone] = [...alone].sort((a, b) => a.plan!.cost - b.plan!.cost);
  return {
    times,
    status:
      choice !== null
        ? 'complete'
        : tried.some(({ short }) => short?.why === 'unknown')
          ? 'unknown'
          : 'short',
    offers: choice?.offers ?? [],
    buy: choice === null ? [] : purchases(moulding, offers, choice.best.used),
    cost: choice && moneyFromCents(choice.best.cost),
    bound: choice && moneyFromCents(choice.bound),
    costPerOrder: choice && Number((moneyFromCents(choice.best.cost) / times).toFixed(4)),
    yield: choice?.best.figures?.yield ?? null,
    bestAlone: bestAlone?.offers[0] ?? null,
    scenarios: tried.map(({ offers: ids, kind, plan, bound }) => ({
      offers: ids,
      kind,
      status: plan === null ? 'short' : 'complete',
      cost: plan && moneyFromCents(plan.cost),
      bound: plan && moneyFromCents(bound),
    })),
  };
}

export function* grow(batch: Batch, order: Order, times: number): OfferInquiry<Growth> {
  const { offers, lines } = order;
  const moulding = order.moulding.id;
  const rails = railsIn(batch, order);
  const trials = yield* tryScenarios({ moulding, offers, times, lines: lines.length, rails });
  return grown(moulding, offers, times, trials);
}
