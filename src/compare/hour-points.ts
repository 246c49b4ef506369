/** What is shown of an hour's worth: some plans spread over all, each with what is proven of it. */
import type { HourPoint } from '../documents/hours/schema.js';
import { moneyFromCents } from '../documents/money.js';
import { seconds } from '../plan/sawing/hours.js';
import { MS_PER_HOUR } from '../stock/charge.js';
import type { Cents } from '../terms.js';
import { crossing, envelope, type SawnPlan, spreadOut, worthAt } from './front.js';

/** No plan comes to less than `bound` for wood and time at the rate, in cents an hour. */
export interface BoundAtRate {
  readonly rate: Cents;
  readonly bound: Cents;
}

/** Points shown: at most, and how many there are however near to each other, as a share of what all span. */
const POINTS_MOST = 9;
const HAIR = 1e-6;
const POINTS = { few: 5, near: 0.03 } as const;

/**
 * A bound at any rate between two that were asked about. The least sum is concave in the rate, so it lies on or above
 * the line between the two bounds.
 */
export function boundAt(bounds: readonly BoundAtRate[], rate: Cents): number {
  const sorted = bounds.toSorted((a, b) => a.rate - b.rate || b.bound - a.bound);
  const after = sorted.findIndex((one) => one.rate >= rate);
  const high = sorted[after];
  if (high === undefined) return 0;
  if (high.rate === rate) return high.bound;
  const low = sorted[after - 1];
  if (low === undefined) return 0;
  return low.bound + ((rate - low.rate) / (high.rate - low.rate)) * (high.bound - low.bound);
}

/**
 * Least wood of any plan that takes at most so long: bound ≤ wood + rate·time at every rate asked about, and wood is
 * whole cents. Between two rates asked about there is nothing to gain, the line between their bounds being straight.
 */
function leastWood(bounds: readonly BoundAtRate[], time: number): Cents {
  const hour = BigInt(MS_PER_HOUR);
  let least = 0n;
  for (const { rate, bound } of bounds) {
    const exact = BigInt(bound) * hour - BigInt(rate) * BigInt(time);
    const cents = exact <= 0n ? 0n : (exact + hour - 1n) / hour;
    if (cents > least) least = cents;
  }
  return Number(least);
}

function proofOf(value: Cents, bound: Cents): HourPoint['wood'] {
  const least = Math.min(value, bound);
  return {
    status: least >= value ? 'optimal' : least > 0 ? 'within' : 'unproven',
    value: moneyFromCents(value),
    bound: moneyFromCents(least),
  };
}

/** `others`: the part of each plan that is the same in all of them, for which nothing is bought. */
export function pointsOf(
  plans: readonly SawnPlan[],
  others: SawnPlan,
  bounds: readonly BoundAtRate[],
): readonly HourPoint[] {
  const shown = spreadOut(plans, POINTS_MOST, POINTS);
  const cheapest = envelope(shown);
  return shown.map((plan): HourPoint => {
    const { cost, time, sticks, visits, stopsSet } = plan;
    const figures = {
      cost: moneyFromCents(cost),
      seconds: seconds(time),
      sticks,
      visits,
      stopsSet,
      wood: proofOf(cost, leastWood(bounds, time - others.time)),
    };
    const at = cheapest.indexOf(plan);
    if (at < 0) return { from: null, to: null, ...figures };
    const from = at === 0 ? 0 : Math.round(crossing(cheapest[at - 1]!, plan));
    const to = at === cheapest.length - 1 ? null : Math.round(crossing(plan, cheapest[at + 1]!));
    const inside = bounds.map(({ rate }) => rate).filter((rate) => rate >= from && rate <= (to ?? Infinity));
    const rates = inside.length > 0 ? inside : [Math.round((from + (to ?? from)) / 2)];
    const sums = rates.map((rate) => {
      const value = worthAt(plan, rate) - worthAt(others, rate);
      return { rate, value, bound: Math.min(value, boundAt(bounds, rate)), all: worthAt(plan, rate) };
    });
    // The rate at which least is proven, as a share of the sum.
    const worst = sums.reduce((a, b) => (b.bound / b.value < a.bound / a.value ? b : a));
    const beside = worst.all - worst.value;
    // Bounds come rounded down to the cent, so sums are compared like that; a hair for the division's rounding.
    const value = Math.floor(worst.all + HAIR);
    const bound = Math.floor(worst.bound + beside + HAIR);
    return {
      from: moneyFromCents(from),
      to: to === null ? null : moneyFromCents(to),
      ...figures,
      proof: { ...proofOf(value, bound), rate: moneyFromCents(worst.rate) },
    };
  });
}
