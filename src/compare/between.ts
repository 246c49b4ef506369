/**
 * Which wood to buy for a plan between two that are known: many plans are the cheapest at no rate, so no rate asks for
 * them. With no more of each offer than a purchase between those of two plans, the least time is such a plan.
 */
import { purchase, supplyOf } from '../stock/purchase.js';
import type { Cents, Labour, Offer } from '../terms.js';
import type { SawnPlan } from './front.js';

/** A plan of one moulding, with how many pieces it takes of each offer. */
export interface BoughtPlan extends SawnPlan {
  readonly bought: ReadonlyMap<string, number>;
}

/** Pieces of each offer, in the order of the offers. */
type PiecesByOffer = readonly number[];

export interface Between {
  readonly pieces: PiecesByOffer;
  readonly cost: Cents;
  /** The plan of less wood and the one of less time. */
  readonly from: BoughtPlan;
  readonly to: BoughtPlan;
}

/** Pieces beyond those of both plans that a purchase between them may take or leave. */
const BEYOND = 3;
const MOST_PURCHASES = 100_000;
/** Of what two plans differ by in wood, how far a purchase may lie from the middle. */
const MIDDLE = 0.3;

function countsOf({ bought }: BoughtPlan, offers: readonly Offer[]): PiecesByOffer {
  return offers.map(({ id }) => bought.get(id) ?? 0);
}

function lengthOf(pieces: PiecesByOffer, offers: readonly Offer[]): number {
  return pieces.reduce((sum, count, k) => sum + count * offers[k]!.length, 0);
}

/** Every purchase about those of two plans, in whole packs. */
function* around(a: PiecesByOffer, b: PiecesByOffer, offers: readonly Offer[]): Generator<number[]> {
  let ways = 1;
  const ranges = offers.map((offer, k) => {
    const { pack } = offer;
    const beyond = ways < MOST_PURCHASES ? BEYOND * pack : 0;
    const down = Math.max(0, Math.min(a[k]!, b[k]!) - beyond);
    const up = Math.min(Math.max(a[k]!, b[k]!) + beyond, supplyOf(offer) ?? Number.POSITIVE_INFINITY);
    const first = Math.ceil(down / pack) * pack;
    ways *= Math.max(1, Math.floor((up - first) / pack) + 1);
    return { first, up, pack };
  });
  if (ways > MOST_PURCHASES) return;
  const pieces = ranges.map(({ first }) => first);
  for (;;) {
    yield pieces;
    let k = 0;
    for (; k < pieces.length; k++) {
      pieces[k]! += ranges[k]!.pack;
      if (pieces[k]! <= ranges[k]!.up) break;
      pieces[k] = ranges[k]!.first;
    }
    if (k === pieces.length) return;
  }
}

/**
 * A purchase near the middle of what two plans cost, not yet tried, at which the least time is likely least: more wood to
 * spare saves visits, as it does from one plan to the other, and each stick more is a first mitre and a visit more.
 * Null: there is none.
 */
function purchaseBetween(
  from: BoughtPlan,
  to: BoughtPlan,
  offers: readonly Offer[],
  { firstMitre, takeStick }: Labour,
  tried: ReadonlySet<string>,
): Between | null {
  const [a, b] = [countsOf(from, offers), countsOf(to, offers)];
  const sticks = (pieces: PiecesByOffer): number => pieces.reduce((sum, count) => sum + count, 0);
  const aStick = firstMitre + takeStick;
  const [lengthA, lengthB] = [lengthOf(a, offers), lengthOf(b, offers)];
  const saved = from.time - to.time + aStick * (sticks(b) - sticks(a));
  const aLength = lengthB > lengthA ? Math.max(0, saved / (lengthB - lengthA)) : 0;
  const need = Math.min(lengthA, lengthB);
  const span = to.cost - from.cost;
  let best: {
    readonly pieces: PiecesByOffer;
    readonly cost: Cents;
    readonly key: readonly [number, number];
  } | null = null;
  for (const pieces of around(a, b, offers)) {
    const length = lengthOf(pieces, offers);
    if (length < need) continue;
    const cost = pieces.reduce((sum, count, k) => sum + purchase(offers[k]!, count).cost, 0);
    if (cost <= from.cost || cost >= to.cost || tried.has(pieces.join(' '))) continue;
    const off = Math.abs(cost - (from.cost + to.cost) / 2) / span;
    const time = aStick * sticks(pieces) - aLength * length;
    const key = off <= MIDDLE ? ([0, time] as const) : ([off, time] as const);
    if (best === null || key[0] < best.key[0] || (key[0] === best.key[0] && key[1] < best.key[1]))
      best = { pieces: [...pieces], cost, key };
  }
  return best === null ? null : { pieces: best.pieces, cost: best.cost, from, to };
}

/**
 * For one moulding, in the gap of its front that is widest in time, or else the next; at first the wood of the plan that
 * buys least, since other plans of the same wood may take less time.
 */
export function nextBetween(
  plans: readonly BoughtPlan[],
  offers: readonly Offer[],
  labour: Labour,
  tried: ReadonlySet<string>,
): Between | null {
  const [first, second] = plans;
  if (first === undefined || second === undefined) return null;
  const own = countsOf(first, offers);
  if (!tried.has(own.join(' '))) return { pieces: own, cost: first.cost, from: first, to: second };
  const gaps = plans
    .slice(1)
    .map((to, k) => ({ from: plans[k]!, to }))
    .sort((a, b) => b.from.time - b.to.time - (a.from.time - a.to.time));
  for (const { from, to } of gaps) {
    const found = purchaseBetween(from, to, offers, labour, tried);
    if (found !== null) return found;
  }
  return null;
}
