/**
 * How many sticks to buy when some of them are bad, by simulation. Sticks are drawn at random one after the other, and
 * the order is planned anew with the first n of them, around their flaws.
 */

import type { Spare } from '../../documents/comparison/types.js';
import { randomOf } from '../../solve/random.js';
import { supplyOf } from '../../stock/purchase.js';
import { type Offer, RAW_ENDS, type RackEntry, type Um } from '../../terms.js';
import { type NamedPattern, type OfferInquiry, type OfferQuestion, together } from '../question.js';
import { enough, enoughOf, purchases, type Situation } from './what-if.js';

const RUNS = 200;
/** Further pieces tried, beyond the number needed if all were good: so many, plus four times the bad share of it. */
const MORE = 4;
const LEVELS = [50, 80, 95, 99] as const;
const UNUSABLE_SHARE = 0.5;
const FLAW_SHORTEST: Um = 25_000;
const FLAW_LONGEST: Um = 300_000;

const MODEL =
  'Each bought stick is bad with the given chance, whatever the others are. Half of the bad ones are of no use; ' +
  'the others have one flaw of 25 to 300 mm, anywhere along the stick. The order is planned anew with the sticks ' +
  'there are, and counts as not made when no plan was found. Common practice, no source.';

/** Its flaws; none: it is good. */
type DrawnStick = RackEntry['flaws'] | 'useless';

/** Draws one stick of this length. */
export function drawn(length: Um, share: number, random: () => number): DrawnStick {
  if (random() >= share) return [];
  if (random() < UNUSABLE_SHARE) return 'useless';
  const flaw = Math.min(length, Math.round(FLAW_SHORTEST + random() * (FLAW_LONGEST - FLAW_SHORTEST)));
  const at = Math.floor(random() * (length - flaw));
  return [[at, at + flaw]];
}

/** The sticks of a run, and the questions about them. */
class Sticks {
  readonly #situation: Situation;
  /** Offers of the pieces in the order they are taken: those of the purchase, then further ones. */
  readonly #offers: readonly Offer[];
  /** Lengths that the recommended plan cuts from, longest first. */
  readonly #planned: readonly Um[];
  readonly #columns: readonly NamedPattern[];
  readonly #asked = new Map<string, OfferQuestion>();

  constructor(situation: Situation, offers: readonly Offer[]) {
    this.#situation = situation;
    this.#offers = offers;
    const { best } = situation;
    this.#planned = situation.offers
      .flatMap(({ id, length }) => Array<Um>(best.used[id] ?? 0).fill(length))
      .sort((a, b) => b - a);
    this.#columns = best.patterns.map((pattern) => ({
      ...pattern,
      count: 0,
      stock: pattern.stock.replace(/^offer /, 'rack good '),
    }));
  }

  get count(): number {
    return this.#offers.length;
  }

  draw(share: number, random: () => number): readonly DrawnStick[] {
    return this.#offers.map(({ length }) => drawn(length, share, random));
  }

  /** Whether for every stick of the recommended plan there is a good one at least as long. */
  replaced(run: readonly DrawnStick[], pieces: number): boolean {
    const good = this.#offers
      .slice(0, pieces)
      .flatMap(({ length }, i) => (run[i]!.length === 0 ? [length] : []))
      .sort((a, b) => b - a);
    return this.#planned.every((length, i) => (good[i] ?? 0) >= length);
  }

  /** Whether the order can be planned anew with the first `pieces` of them. */
  question(run: readonly DrawnStick[], pieces: number): OfferQuestion {
    const { moulding } = this.#situation;
    const good = new Map<Offer, number>();
    const flawed: RackEntry[] = [];
    this.#offers.slice(0, pieces).forEach((offer, i) => {
      const flaws = run[i]!;
      if (flaws === 'useless') return;
      if (flaws.length === 0) good.set(offer, (good.get(offer) ?? 0) + 1);
      else
        flawed.push({
          id: `flawed ${i}`,
          moulding,
          length: offer.length,
          quantity: 1,
          flaws,
          ends: RAW_ENDS,
          value: null,
        });
    });
    const whole = [...good].map(([{ id, length }, quantity]) => ({
      id: `good ${id}`,
      moulding,
      length,
      quantity,
      flaws: [],
      ends: RAW_ENDS,
      value: null,
    }));
    const key = JSON.stringify([whole, flawed.map(({ length, flaws }) => [length, flaws])]);
    const asked = this.#asked.get(key) ?? enoughOf(moulding, [...whole, ...flawed], this.#columns);
    this.#asked.set(key, asked);
    return asked;
  }
}

interface PiecesNeeded {
  /** Null: more than were tried. */
  readonly pieces: number | null;
  /** Proven: fewer are not enough. */
  readonly sure: boolean;
}

/**
 * Further pieces to buy, in order: the longest offer of the purchase, from which every rail can be cut, as long as there
 * are any for sale; then the next.
 */
function furtherOf(offers: readonly Offer[], counts: ReadonlyMap<string, number>, most: number): Offer[] {
  const bought = offers.filter(({ id }) => counts.has(id)).sort((a, b) => b.length - a.length);
  const further = bought.flatMap((offer) => {
    const room = (supplyOf(offer) ?? Number.POSITIVE_INFINITY) - (counts.get(offer.id) ?? 0);
    return Array<Offer>(Math.min(most, room)).fill(offer);
  });
  return further.slice(0, most);
}

/** Fewest pieces, from `least` on, that make the order in this run. */
function* needed(sticks: Sticks, run: readonly DrawnStick[], least: number): OfferInquiry<PiecesNeeded> {
  let sure = true;
  for (let pieces = least; pieces <= sticks.count; pieces++) {
    if (sticks.replaced(run, pieces)) return { pieces, sure };
    // One more useless stick changes nothing.
    if (pieces > least && run[pieces - 1] === 'useless') continue;
    const made = yield* enough(sticks.question(run, pieces));
    if (made === true) return { pieces, sure };
    sure &&= made === false;
  }
  return { pieces: null, sure };
}

export function* spareSticks(situation: Situation, share: number, seed: number): OfferInquiry<Spare | null> {
  const { moulding, offers, best } = situation;
  const counts = new Map(purchases(moulding, offers, best.used).map(({ offer, count }) => [offer, count]));
  const pieces = [...counts.values()].reduce((sum, count) => sum + count, 0);
  if (pieces === 0) return null;
  const further = furtherOf(offers, counts, MORE + Math.ceil(pieces * Math.min(1, 4 * share)));
  const bought = offers.flatMap((offer) => Array<Offer>(counts.get(offer.id) ?? 0).fill(offer));
  const sticks = new Sticks(situation, [...bought, ...further]);
  const random = randomOf(seed);
  const runs = Array.from({ length: RUNS }, () => sticks.draw(share, random));
  const needs = yield* together(runs.map((run) => needed(sticks, run, pieces)));
  const of100 = (n: number): number =>
    Math.floor((100 * needs.filter((need) => need.pieces !== null && need.pieces <= n).length) / RUNS);
  const tried = Array.from({ length: sticks.count - pieces + 1 }, (_, i) => pieces + i);
  const odds = tried.map((n) => ({ pieces: n, of100: of100(n) }));
  const end = odds.findIndex((one) => one.of100 === 100);
  return {
    share,
    runs: RUNS,
    undecided: needs.filter(({ sure }) => !sure).length,
    seed,
    pieces,
    more: [...new Set(further.map(({ id }) => id))],
    model: MODEL,
    levels: LEVELS.map((level) => ({
      of100: level,
      pieces: odds.find((one) => one.of100 >= level)?.pieces ?? null,
    })),
    odds: end < 0 ? odds : odds.slice(0, end + 1),
  };
}
