/** Comparisons under other conditions: against an integer programme over all patterns, and the stated chances. */
import { describe, expect, it } from 'vitest';
import { KnownPlans } from '../../src/compare/known.js';
import type { Made, OfferQuestion } from '../../src/compare/question.js';
import { drawn } from '../../src/compare/trials/spare.js';
import { shorter } from '../../src/compare/trials/what-if.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { randomOf } from '../../src/solve/random.js';
import { cents, leastCost, ORDER, offering, one, under } from './kit.js';

describe('other conditions', () => {
  it('sticks that cannot be carried are left out', async () => {
    const { whatIf, recommendation } = await one(under({ maxLength: '9 ft' }));
    const best = await leastCost(offering(ORDER, ORDER.offers!.slice(0, 1)));
    expect(whatIf).toHaveLength(1);
    expect(whatIf[0]).toMatchObject({
      what: 'maxLength',
      length: 2743.2,
      status: 'complete',
      stillEnough: null,
    });
    expect(cents(whatIf[0]!.cost!)).toBe(best);
    expect(cents(whatIf[0]!.difference!)).toBe(best! - cents(recommendation.cost!));
    const none = await one(under({ maxLength: 20 }));
    expect(none.whatIf[0]).toMatchObject({ status: 'short', cost: null });
  });

  it('sticks that are short cost what shorter offers cost, and the pieces recommended do or do not', async () => {
    for (const shortBy of ['1/8', '3', '12']) {
      const { whatIf, recommendation } = await one(under({ shortBy }));
      const inches = shortBy === '1/8' ? 0.125 : Number(shortBy);
      const feet = [8, 10, 12].map((foot) => foot * 12 - inches);
      const shorter = offering(
        ORDER,
        ORDER.offers!.map((offer, i) => ({ ...offer, length: feet[i]! })),
      );
      expect(cents(whatIf[0]!.cost!)).toBe(await leastCost(shorter));
      const bought = offering(
        shorter,
        shorter.offers!.map((offer) => ({
          ...offer,
          available: recommendation.buy.find((buy) => buy.offer === offer.id)?.count ?? 0,
        })),
      );
      expect(whatIf[0]!.stillEnough).toBe((await leastCost(bought)) !== null);
    }
  });

  it('where the pieces recommended still do, their plan is what the search for a cheaper one starts from', () => {
    const offers = checkBatch(ORDER).offers;
    const [eight] = offers;
    const plan = { stock: `offer ${eight!.id}`, count: 3, segments: [[{ item: 0, count: 2 }]] };
    const used = { [eight!.id]: 3 };
    const made: Made = { kind: 'made', cost: 300, bound: 300, used, patterns: [plan], figures: null };
    const known = new KnownPlans();
    known.add({ ...made, patterns: [{ ...plan, count: 7 }] });
    const asking = shorter({ moulding: eight!.moulding, offers, known, best: made }, 1_000);
    const [still] = asking.next().value as readonly OfferQuestion[];
    expect(still!.offers).toEqual([{ ...eight, length: eight!.length - 1_000, available: 3 }]);
    const [question] = asking.next([made]).value as readonly OfferQuestion[];
    expect(question!.offers).toHaveLength(offers.length);
    expect(question!.start[0]).toEqual(plan);
    expect(question!.start.slice(1).map(({ count }) => count)).not.toContain(7);
    expect(asking.next([made]).value).toMatchObject({ stillEnough: true });
  });

  it('single pieces at the single price', async () => {
    const packs = ORDER.offers!.map((offer) => ({ ...offer, pack: 4, breaks: [{ from: 8, price: 16 }] }));
    const { whatIf, recommendation } = await one(offering(ORDER, packs));
    expect(cents(recommendation.cost!)).toBe(await leastCost(offering(ORDER, packs)));
    expect(whatIf[0]).toMatchObject({ what: 'singlePieces' });
    expect(cents(whatIf[0]!.cost!)).toBe(await leastCost(ORDER));
  });

  it('the order several times over', async () => {
    const { growth } = await one(under({ grow: [1, 2, 5] }));
    expect(growth.map(({ times }) => times)).toEqual([1, 2, 5]);
    for (const { times, cost, costPerOrder, bestAlone, scenarios } of growth) {
      const grown = {
        ...ORDER,
        frames: ORDER.frames.map((line) => ({ ...line, quantity: (line.quantity ?? 1) * times })),
      };
      expect(cents(cost!)).toBe(await leastCost(grown));
      expect(costPerOrder).toBeCloseTo(cost! / times, 3);
      const alone = await Promise.all(ORDER.offers!.map((offer) => leastCost(offering(grown, [offer]))));
      expect(bestAlone).toBe(ORDER.offers![alone.indexOf(Math.min(...alone.map((each) => each!)))]!.id);
      expect(scenarios).toHaveLength(7);
    }
  });
});

describe('prices of offers with packs and price breaks', () => {
  const offers = [
    { id: 'eight', moulding: 'ash', length: '8 ft', price: 17.6, pack: 2 },
    { id: 'ten', moulding: 'ash', length: '10 ft', price: 22.4, breaks: [{ from: 6, price: 20.9 }] },
  ];
  const document = offering(ORDER, offers);
  /** All prices of an offer moved together. */
  const moved = (id: string, price: number): BatchDocument =>
    offering(
      document,
      offers.map((offer) => {
        if (offer.id !== id) return offer;
        const by = cents(price) - cents(offer.price);
        const breaks = (offer.breaks ?? []).map((step) => ({
          ...step,
          price: (cents(step.price) + by) / 100,
        }));
        return { ...offer, price: cents(price) / 100, breaks };
      }),
    );

  it('hold at one cent below and above', async () => {
    const { breakEven, recommendation } = await one(document);
    const cost = cents(recommendation.cost!);
    expect(cost).toBe(await leastCost(document));
    let asked = 0;
    for (const { offer, price, from, to } of breakEven) {
      const pieces = recommendation.buy.find((buy) => buy.offer === offer)?.count ?? 0;
      const at = (money: number): number => cost + pieces * (cents(money) - cents(price));
      for (const [end, beyond] of [
        [from, -0.01],
        [to, 0.01],
      ] as const) {
        if (end === null) continue;
        asked += 1;
        expect(end.proven).toBe(true);
        expect(await leastCost(moved(offer, end.price))).toBe(at(end.price));
        expect(await leastCost(moved(offer, end.price + beyond))).toBeLessThan(at(end.price + beyond));
      }
    }
    expect(asked).toBeGreaterThan(1);
  });
});

describe('spare sticks', () => {
  it('are drawn as stated', () => {
    const random = randomOf(7);
    const sticks = Array.from({ length: 20_000 }, () => drawn(3_000_000, 0.2, random));
    const bad = sticks.filter((flaws) => flaws === 'useless' || flaws.length > 0);
    // Five standard deviations of a binomial share.
    expect(Math.abs(bad.length / sticks.length - 0.2)).toBeLessThan(5 * Math.sqrt((0.2 * 0.8) / 20_000));
    const useless = bad.filter((flaws) => flaws === 'useless').length / bad.length;
    expect(Math.abs(useless - 0.5)).toBeLessThan(5 * Math.sqrt(0.25 / bad.length));
    for (const flaws of bad) {
      if (flaws === 'useless') continue;
      const [from, to] = flaws[0]!;
      expect(from).toBeGreaterThanOrEqual(0);
      expect(to).toBeLessThanOrEqual(3_000_000);
      expect(to - from).toBeGreaterThanOrEqual(25_000);
      expect(to - from).toBeLessThanOrEqual(300_000);
    }
  });

  it('are between all bad ones of no use and all of them good, the same for the same seed', async () => {
    const asked = under({ spare: '1 in 20', seed: 3 });
    const [{ spare, recommendation }, again] = [await one(asked), await one(asked)];
    expect(again.spare).toEqual(spare);
    // A program writes the share as a number.
    expect((await one(under({ spare: 0.05, seed: 3 }))).spare).toEqual(spare);
    await expect((async () => one(under({ spare: 1 })))()).rejects.toThrow(/options\.spare/);
    const { pieces, odds, levels, runs } = spare!;
    expect(pieces).toBe(recommendation.buy.reduce((sum, { count }) => sum + count, 0));
    // With no bad stick among them they do, and by the binomial distribution that is so in 0.95^n of the runs.
    const good = 0.95 ** pieces;
    expect(odds[0]!.pieces).toBe(pieces);
    expect(odds[0]!.of100 / 100).toBeGreaterThan(good - 4 * Math.sqrt((good * (1 - good)) / runs));
    for (const [i, { of100 }] of odds.entries())
      expect(of100).toBeGreaterThanOrEqual(odds[i - 1]?.of100 ?? 0);
    for (const { of100, pieces: enough } of levels) {
      const first = odds.find((each) => each.of100 >= of100);
      expect(enough).toBe(first?.pieces ?? null);
    }
    const worse = (await one(under({ spare: '30 %', seed: 3 }))).spare!;
    const at95 = (each: typeof worse): number => each.levels[2]!.pieces ?? Number.POSITIVE_INFINITY;
    expect(at95(worse)).toBeGreaterThan(at95(spare!));
  });
});
