/**
 * How many sticks to buy when some of them are bad, by simulation: sticks are drawn one after the other, and the order
 * is tried with the first n of them, planned anew around what is wrong with each.
 */
import { randomOf } from '../solve/random.js';
import { supplyOf } from '../stock/purchase.js';
import type { Offer, RackEntry, Um } from '../terms.js';
import { type Asking, together } from './question.js';
import type { Spare } from './types.js';
import { enough, purchases, type Situation } from './what-if.js';

const RUNS = 200;
/** Pieces tried beyond those that would do if all were good: so many, and four times the share that is bad. */
const MORE = 4;
const LEVELS = [50, 80, 95, 99] as const;
const UNUSABLE_SHARE = 0.5;
const FLAW_SHORTEST: Um = 25_000;
const FLAW_LONGEST: Um = 300_000;

const MODEL =
  'Each bought stick is bad with the given chance, whatever the others are. Half of the bad ones are of no use; ' +
  'the others have one flaw of 25 to 300 mm, anywhere along the stick. The order is planned anew with the sticks ' +
  'there are, and counts as not made when no plan was found. Common practice, no source.';

/** One stick of this length, as `random` has it. */
export function drawn(length: Um, share: number, random: () => number): RackEntry['flaws'] | 'useless' {
  if (random() >= share) return [];
  if (random() < UNUSABLE_SHARE) return 'useless';
  const flaw = Math.min(length, Math.round(FLAW_SHORTEST + random() * (FLAW_LONGEST - FLAW_SHORTEST)));
  const at = Math.floor(random() * (length - flaw));
  return [[at, at + flaw]];
}

interface Run {
  readonly sticks: readonly (RackEntry['flaws'] | 'useless')[];
}

/** Lengths of the pieces in the order they are taken: those of the purchase, then more of `extra`. */
function lengthsOf(
  offers: readonly Offer[],
  counts: ReadonlyMap<string, number>,
  extra: Offer,
  more: number,
) {
  const bought = offers.flatMap((offer) => Array<Um>(counts.get(offer.id) ?? 0).fill(offer.length));
  return [...bought, ...Array<Um>(more).fill(extra.length)];
}

function rackOf(moulding: string, lengths: readonly Um[], run: Run, pieces: number): RackEntry[] {
  const good = new Map<Um, number>();
  const flawed: RackEntry[] = [];
  for (let i = 0; i < pieces; i++) {
    const flaws = run.sticks[i]!;
    const length = lengths[i]!;
    if (flaws === 'useless') continue;
    if (flaws.length === 0) good.set(length, (good.get(length) ?? 0) + 1);
    else flawed.push({ id: `drawn ${i}`, moulding, length, quantity: 1, flaws, value: null });
  }
  const whole = [...good].map(([length, quantity]) => ({
    id: `drawn good ${length}`,
    moulding,
    length,
    quantity,
    flaws: [],
    value: null,
  }));
  return [...whole, ...flawed];
}

interface Need {
  /** Null: more than were tried. */
  readonly pieces: number | null;
  /** Fewer are proven not to do. */
  readonly sure: boolean;
}

/** What is bought beyond the purchase: the longest of its offers, which every rail can be cut from that it was for. */
function furtherOf(offers: readonly Offer[], counts: ReadonlyMap<string, number>): Offer {
  const bought = offers.filter(({ id }) => counts.has(id)).sort((a, b) => b.length - a.length);
  return bought.find((offer) => roomIn(offer, counts) > 0) ?? bought[0]!;
}

function roomIn(offer: Offer, counts: ReadonlyMap<string, number>): number {
  return (supplyOf(offer) ?? Number.POSITIVE_INFINITY) - (counts.get(offer.id) ?? 0);
}

/** Fewest pieces, from `least` on, that make the order in this run; null: more than there are. */
function* needed(moulding: string, lengths: readonly Um[], run: Run, least: number): Asking<Need> {
  const bad = run.sticks.slice(0, least).some((flaws) => flaws === 'useless' || flaws.length > 0);
  if (!bad) return { pieces: least, sure: true };
  let sure = true;
  for (let pieces = least; pieces <= lengths.length; pieces++) {
    // The last piece is of no use, so nothing has changed.
    if (pieces > least && run.sticks[pieces - 1] === 'useless') continue;
    const made = yield* enough(moulding, rackOf(moulding, lengths, run, pieces));
    if (made === true) return { pieces, sure };
    sure &&= made === false;
  }
  return { pieces: null, sure };
}

export function* spareSticks(situation: Situation, share: number, seed: number): Asking<Spare | null> {
  const { moulding, offers, best } = situation;
  const counts = new Map(purchases(moulding, offers, best.used).map(({ offer, count }) => [offer, count]));
  const pieces = [...counts.values()].reduce((sum, count) => sum + count, 0);
  if (pieces === 0) return null;
  const extra = furtherOf(offers, counts);
  const more = Math.min(roomIn(extra, counts), MORE + Math.ceil(pieces * Math.min(1, 4 * share)));
  const lengths = lengthsOf(offers, counts, extra, more);
  const random = randomOf(seed);
  const runs = Array.from(
    { length: RUNS },
    (): Run => ({ sticks: lengths.map((length) => drawn(length, share, random)) }),
  );
  const needs = yield* together(runs.map((run) => needed(moulding, lengths, run, pieces)));
  const of100 = (n: number): number =>
    Math.floor((100 * needs.filter((need) => need.pieces !== null && need.pieces <= n).length) / RUNS);
  const tried = lengths.map((_, i) => i + 1).filter((n) => n >= pieces);
  const odds = tried.map((n) => ({ pieces: n, of100: of100(n) }));
  const end = odds.findIndex((one) => one.of100 === 100);
  return {
    share,
    runs: RUNS,
    undecided: needs.filter(({ sure }) => !sure).length,
    seed,
    pieces,
    more: extra.id,
    model: MODEL,
    levels: LEVELS.map((level) => ({
      of100: level,
      pieces: odds.find((one) => one.of100 >= level)?.pieces ?? null,
    })),
    odds: end < 0 ? odds : odds.slice(0, end + 1),
  };
}
