/** Which scenario is the answer, and which is the next best. */
import type { Cents } from '../terms.js';
import type { Made } from './question.js';
import type { Tried } from './trials/scenarios.js';
import { within } from './trials/sets.js';

export interface OfferChoice {
  readonly best: Made;
  /** Offers bought; none where the rack makes the order. */
  readonly offers: readonly string[];
  /** Proven: no purchase costs less than this. */
  readonly bound: Cents;
  readonly next: Tried | null;
}

/** At equal cost the plan with fewer lengths is better; then the earlier scenario. */
function better(a: Made, b: Made): boolean {
  if (a.cost !== b.cost) return a.cost < b.cost;
  return Object.keys(a.used).length < Object.keys(b.used).length;
}

/** Null where no scenario makes the order. */
export function choose(tried: readonly Tried[]): OfferChoice | null {
  let best: Made | null = null;
  for (const { plan } of tried) if (plan !== null && (best === null || better(plan, best))) best = plan;
  if (best === null) return null;
  const offers = Object.keys(best.used);
  // The bound of the largest scenario holds for every purchase, since all others buy from a part of its offers.
  const whole = tried.reduce((most, one) => (one.offers.length > most.offers.length ? one : most));
  const others = tried.filter(({ plan, offers: ids }) => plan !== null && !within(offers, ids));
  const next = others.reduce<Tried | null>(
    (least, one) => (least === null || one.plan!.cost < least.plan!.cost ? one : least),
    null,
  );
  return { best, offers, bound: Math.min(best.cost, whole.bound), next: offers.length === 0 ? null : next };
}
