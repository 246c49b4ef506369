/** Comparisons against separate full plans, an integer programme over all patterns, and their own definitions. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { refusals } from '../../src/stock/refusals.js';
import { ResolvedBatch } from '../../src/stock/resolved.js';
import { dice } from '../plan/batches.js';
import { compared, leastCost, offering, plannedCost, priced, smallOrder } from './kit.js';

const ORDERS = Array.from({ length: 8 }, (_, i) => `order ${i + 1}`);
const cents = (money: number): number => Math.round(money * 100);

function only(document: BatchDocument, ids: readonly string[]): BatchDocument {
  return offering(
    document,
    (document.offers ?? []).filter(({ id }) => ids.includes(id)),
  );
}

/** Least cost by HiGHS; null where some frame can be cut from nothing. */
async function least(document: BatchDocument): Promise<number | null> {
  return refusals(new ResolvedBatch(checkBatch(document))).length > 0 ? null : leastCost(document);
}

describe.each(ORDERS)('%s', (name) => {
  const document = smallOrder(name);

  it('has for each scenario the cost of a separate full plan, and of an integer programme over all patterns', async () => {
    const { mouldings, totals } = await compared(document);
    const scenarios = mouldings.flatMap((one) => one.scenarios);
    const count = document.offers?.length ?? 0;
    const pairs = count > 2 ? (count * (count - 1)) / 2 : 0;
    expect(scenarios).toHaveLength(count + pairs + 1);
    for (const { offers, status, short, proof, buy, planOf } of scenarios) {
      const own = only(document, offers);
      const best = await least(own);
      if (best === null) {
        expect([status, short?.why]).toEqual([
          'short',
          refusals(new ResolvedBatch(checkBatch(own))).length > 0 ? 'tooLong' : 'notEnough',
        ]);
        continue;
      }
      expect(status).toBe('complete');
      const { value, bound, status: proven } = proof!;
      expect(cents(bound)).toBeLessThanOrEqual(best);
      expect(cents(value)).toBeGreaterThanOrEqual(best);
      if (proven === 'optimal') expect(cents(value)).toBe(best);
      // What is left open costs more than the answer, and no more than any part of it.
      else expect([proven, cents(bound) > cents(totals.cost)]).toEqual(['excluded', true]);
      for (const part of scenarios) {
        if (part.proof === null || !part.offers.every((id) => offers.includes(id))) continue;
        expect(value).toBeLessThanOrEqual(part.proof.value);
      }
      const plan = await plannedCost(own);
      expect(plan?.bound).toBeLessThanOrEqual(cents(value));
      if (plan?.cost === plan?.bound && proven === 'optimal') expect(plan?.cost).toBe(cents(value));
      expect(buy.reduce((sum, { cost }) => sum + cents(cost), 0)).toBe(cents(value));
      expect(buy.map(({ offer }) => offer)).toEqual(planOf ?? offers);
    }
  });

  it('recommends what costs least of all subsets of offers, and proves it', async () => {
    const { mouldings, totals } = await compared(document);
    const best = await least(document);
    const { recommendation } = mouldings[0]!;
    expect(best).not.toBeNull();
    expect([recommendation.cost, recommendation.bound].map((money) => cents(money!))).toEqual([best, best]);
    expect(totals.cost).toBe(recommendation.cost);
    // The next best is the cheapest scenario that lacks some of the offers bought.
    const others = mouldings[0]!.scenarios.filter(
      ({ offers, proof }) => proof !== null && !recommendation.offers.every((id) => offers.includes(id)),
    );
    const next = Math.min(...others.map(({ proof }) => cents(proof!.value)));
    if (recommendation.saves === null) expect(others).toHaveLength(0);
    else expect(cents(recommendation.saves)).toBe(next - best!);
  });

  it('says prices that hold when planned at one cent below and above', async () => {
    const { mouldings } = await compared(document);
    const { recommendation, breakEven } = mouldings[0]!;
    const cost = cents(recommendation.cost!);
    expect(breakEven).toHaveLength(document.offers?.length ?? 0);
    for (const { offer, price, bought, aloneTies, from, to, known } of breakEven) {
      expect(known).toBe(true);
      const pieces = recommendation.buy.find((one) => one.offer === offer)?.count ?? 0;
      expect(bought).toBe(pieces > 0);
      /** The recommended purchase at another price of this offer. */
      const at = (money: number): number => cost + pieces * (cents(money) - cents(price));
      const ask = async (money: number): Promise<number> =>
        (await least(priced(document, offer, money / 100)))!;
      if (from !== null) {
        expect(from.proven).toBe(true);
        expect(await ask(cents(from.price))).toBe(at(from.price));
        expect(await ask(cents(from.price) - 1)).toBeLessThan(at(from.price - 0.01));
      } else expect(await ask(0)).toBe(at(0));
      if (to !== null) {
        expect(to.proven).toBe(true);
        expect(await ask(cents(to.price))).toBe(at(to.price));
        expect(await ask(cents(to.price) + 1)).toBeLessThan(at(to.price + 0.01));
      } else expect(await ask(100_000)).toBe(at(1_000));
      if (bought && recommendation.offers.length === 1) continue;
      const alone = async (money: number): Promise<number | null> =>
        least(priced(only(document, [offer]), offer, money / 100));
      if (aloneTies === null) expect(await alone(0)).toBeNull();
      else {
        expect(aloneTies.proven).toBe(true);
        expect(await alone(cents(aloneTies.price))).toBeLessThanOrEqual(cost);
        expect(await alone(cents(aloneTies.price) + 1)).toBeGreaterThan(cost);
      }
    }
  });

  it('never gets dearer by a cheaper, longer or further offer', async () => {
    const at = dice(`monotone ${name}`);
    const before = (await compared(document)).totals.cost;
    const offers = document.offers ?? [];
    const some = at.pick(offers);
    const cheaper = priced(
      document,
      some.id,
      Math.max(0, Math.round(((some.price ?? 0) - at.whole(1, 300) / 100) * 100) / 100),
    );
    const longer = offering(
      document,
      offers.map((offer) =>
        offer.id === some.id ? { ...offer, length: `${offer.length} ${at.whole(1, 11)} in` } : offer,
      ),
    );
    const more = offering(document, [
      ...offers,
      { ...some, id: 'more', length: '5 ft', price: at.whole(500, 1500) / 100 },
    ]);
    for (const other of [cheaper, longer, more]) {
      expect((await compared(other)).totals.cost).toBeLessThanOrEqual(before);
    }
  });
});
