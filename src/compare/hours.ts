/**
 * What an hour at the saw is worth: the plans that are cheapest at some rate, from least wood to least time, and between
 * which rates each is. Found by asking for the plan at the rate at which two known plans cost the same, over and over
 * (Aneja and Nair 1979): either there is a third that costs less there, or none lies between them. Where that is not
 * proven, since each search has little time, further rates are asked about.
 */
import type { HourPoint } from '../documents/hours/schema.js';

/** A plan made for one rate. */
export interface PlanAtRate {
  /** Wood bought, in money. */
  readonly cost: number;
  readonly seconds: number;
  readonly sticks: number;
  readonly visits: number;
  readonly stopsSet: number;
  /** Wood and time at the rate it was made for: no plan comes to less. */
  readonly bound: number;
}

interface AskedRate {
  readonly rate: number;
  readonly plan: PlanAtRate;
}

/** Money an hour: at this rate only time counts. */
const LEAST_TIME = 100_000;
const SECONDS_AN_HOUR = 3_600;
/** At most so many rates are asked about. */
export const RATES_MOST = 9;
const CENT = 0.01;
/** The least and the greatest rate asked about beside the corners are so many times from the outermost of those. */
const END_TIMES = 9;
/** Rates nearer to each other than so many times have the same plan, mostly. */
const NEAR_TIMES = 1.5;

function worth({ cost, seconds }: PlanAtRate, rate: number): number {
  return cost + (seconds * rate) / SECONDS_AN_HOUR;
}

/** The rate from which on `b`, which takes less time, is the cheaper one. */
function crossing(a: PlanAtRate, b: PlanAtRate): number {
  return ((b.cost - a.cost) * SECONDS_AN_HOUR) / (a.seconds - b.seconds);
}

/** Plans that are cheapest at some rate, by rising rate: the lower envelope of their costs as lines over the rate. */
function envelope(plans: readonly PlanAtRate[]): readonly PlanAtRate[] {
  const sorted = [...plans].sort((a, b) => a.cost - b.cost || a.seconds - b.seconds);
  const hull: PlanAtRate[] = [];
  for (const plan of sorted) {
    const last = hull.at(-1);
    if (last !== undefined && plan.seconds >= last.seconds) continue;
    while (hull.length > 1 && crossing(hull.at(-1)!, plan) <= crossing(hull.at(-2)!, hull.at(-1)!))
      hull.pop();
    hull.push(plan);
  }
  return hull;
}

/**
 * A bound at any rate between two that were asked about. The least sum is concave in the rate, so it lies on or above
 * the line between the two bounds.
 */
function boundAt(asked: readonly AskedRate[], rate: number): number {
  const sorted = [...asked].sort((a, b) => a.rate - b.rate);
  const after = sorted.findIndex((one) => one.rate >= rate);
  const high = sorted[after];
  if (high === undefined) return 0;
  if (high.rate === rate || after === 0) return high.rate === rate ? high.plan.bound : 0;
  const low = sorted[after - 1]!;
  const share = (rate - low.rate) / (high.rate - low.rate);
  return low.plan.bound + share * (high.plan.bound - low.plan.bound);
}

function pointsOf(asked: readonly AskedRate[]): readonly HourPoint[] {
  const plans = envelope(asked.map(({ plan }) => plan));
  const rates = asked.map(({ rate }) => rate).filter((rate) => rate < LEAST_TIME);
  return plans.map((plan, i): HourPoint => {
    const from = i === 0 ? 0 : crossing(plans[i - 1]!, plan);
    const to = i === plans.length - 1 ? null : crossing(plan, plans[i + 1]!);
    const inside = rates.filter((rate) => rate >= from - CENT && rate <= (to ?? LEAST_TIME) + CENT);
    const gaps = (inside.length > 0 ? inside : [to === null ? LEAST_TIME : (from + to) / 2]).map((rate) => {
      const value = worth(plan, rate);
      return { rate, value, bound: Math.min(value, boundAt(asked, rate)) };
    });
    const { rate, value, bound } = gaps.reduce((a, b) => (b.value - b.bound < a.value - a.bound ? b : a));
    const cents = Math.round(value / CENT);
    const least = bound >= value - 1e-6 ? cents : Math.floor(bound / CENT);
    const { cost, seconds, sticks, visits, stopsSet } = plan;
    return {
      from: Math.round(from / CENT) * CENT,
      to: to === null ? null : Math.round(to / CENT) * CENT,
      cost,
      seconds,
      sticks,
      visits,
      stopsSet,
      proof: {
        status: least >= cents ? 'optimal' : least > 0 ? 'within' : 'unproven',
        rate: Math.round(rate / CENT) * CENT,
        value: cents * CENT,
        bound: Math.min(least, cents) * CENT,
      },
    };
  });
}

/** Where two plans next to each other cost the same and nobody has asked yet, the widest corner first; null: nowhere. */
function cornerRate(asked: readonly AskedRate[]): number | null {
  const plans = envelope(asked.map(({ plan }) => plan));
  const corners = plans.slice(1).map((b, i) => {
    const a = plans[i]!;
    return { rate: crossing(a, b), area: (b.cost - a.cost) * (a.seconds - b.seconds) };
  });
  const open = corners.filter(({ rate }) => asked.every((one) => Math.abs(one.rate - rate) >= CENT));
  return open.sort((a, b) => b.area - a.area)[0]?.rate ?? null;
}

/**
 * Where corners bring nothing more: a rate in the widest gap between those asked about at which the cheapest plan known
 * is not proven, since a search within a time may have missed one. Null: there is none.
 */
function gapRate(asked: readonly AskedRate[]): number | null {
  const rates = asked.map(({ rate }) => rate).filter((rate) => rate > 0 && rate < LEAST_TIME);
  if (rates.length === 0) return null;
  const [low, high] = [Math.min(...rates), Math.max(...rates)];
  const ends = [low / END_TIMES, ...rates.sort((a, b) => a - b), Math.min(high * END_TIMES, LEAST_TIME)];
  const gaps = ends.slice(1).map((to, i) => ({ rate: Math.sqrt(ends[i]! * to), times: to / ends[i]! }));
  const open = gaps.filter(({ rate, times }) => {
    const least = Math.min(...asked.map(({ plan }) => worth(plan, rate)));
    return times >= NEAR_TIMES && least - boundAt(asked, rate) > CENT;
  });
  return open.sort((a, b) => b.times - a.times)[0]?.rate ?? null;
}

/** Asks for plans, each at a rate (money an hour, 0 for least wood), until no better one is likely, or rates are used up. */
export function* hoursWorth(): Generator<number, readonly HourPoint[], PlanAtRate> {
  const asked: AskedRate[] = [];
  for (const end of [0, LEAST_TIME]) asked.push({ rate: end, plan: yield end });
  while (asked.length < RATES_MOST) {
    const rate = cornerRate(asked) ?? gapRate(asked);
    if (rate === null) break;
    asked.push({ rate, plan: yield rate });
  }
  return pointsOf(asked);
}
