/**
 * What an hour at the saw is worth: plans from least wood to least time, and between which rates each is the cheapest.
 * Found by asking for the plan at the rate at which two known plans cost the same, over and over (Aneja and Nair 1979):
 * either there is a third that costs less there, or none lies between them. Where that is not proven, since each search
 * has little time, further rates are asked about. Many plans in between are the cheapest at no rate: for them the least
 * time is asked for with no more wood than a purchase between those of two plans known (the ε-constraint method;
 * Haimes, Lasdon and Wismer 1971).
 */
import type { HourPoint } from '../documents/hours/schema.js';
import type { Cents, Labour, Offer } from '../terms.js';
import { type BoughtPlan, nextBetween } from './between.js';
import { crossing, envelope, front, type SawnPlan, sums, worthAt } from './front.js';
import { type BoundAtRate, boundAt, pointsOf } from './hour-points.js';

/** `rate` 0: the least wood. `available`: of these offers no more pieces than so many, by id. */
export interface HourQuestion {
  readonly rate: Cents;
  readonly available: ReadonlyMap<string, number>;
}

export interface HourAnswer {
  /** By moulding, where there is something to buy. */
  readonly bought: ReadonlyMap<string, BoughtPlan>;
  /** All others, together. */
  readonly others: SawnPlan;
  /** Wood and time at the rate of what is bought for: no plan comes to less. Null where less was available. */
  readonly bound: Cents | null;
}

/** One moulding that is bought for. */
export interface HourOrder {
  readonly moulding: string;
  readonly offers: readonly Offer[];
}

/** Cents an hour: at this rate only time counts. */
const LEAST_TIME: Cents = 10_000_000;
/** At most so many questions, two at a time. */
export const QUESTIONS_MOST = 16;
export const TOGETHER = 2;
/** Questions about corners only, before any about plans between. */
const CORNERS_FIRST = 8;
/** The least and the greatest rate asked about beside the corners are so many times from the outermost of those. */
const END_TIMES = 9;
/** Rates nearer to each other than so many times have the same plan, mostly. */
const NEAR_TIMES = 1.5;
/** With no more wood than given time is to be least: so many times the rate at which the neighbours cost the same. */
const DEAR_TIMES = 10;
const NO_LIMIT: ReadonlyMap<string, number> = new Map();

class HoursKnown {
  readonly #orders: readonly HourOrder[];
  readonly #labour: Labour;
  readonly #fronts: Map<string, readonly BoughtPlan[]>;
  readonly #tried: Map<string, Set<string>>;
  others: SawnPlan | null = null;
  readonly asked: Cents[] = [];
  readonly bounds: BoundAtRate[] = [];

  constructor(orders: readonly HourOrder[], labour: Labour) {
    this.#orders = orders;
    this.#labour = labour;
    this.#fronts = new Map(orders.map(({ moulding }) => [moulding, []]));
    this.#tried = new Map(orders.map(({ moulding }) => [moulding, new Set()]));
  }

  learn({ rate }: HourQuestion, { bought, others, bound }: HourAnswer): void {
    this.others ??= others;
    if (bound !== null) this.bounds.push({ rate, bound });
    for (const [moulding, plan] of bought)
      this.#fronts.set(moulding, front([...(this.#fronts.get(moulding) ?? []), plan]));
  }

  /** Of all mouldings together. */
  plans(): readonly SawnPlan[] {
    return sums([...this.#fronts.values()], this.others!);
  }

  atRate(rate: Cents): HourQuestion {
    this.asked.push(rate);
    return { rate, available: NO_LIMIT };
  }

  /** Where two plans next to each other cost the same and nobody has asked yet, the widest corner first; null: nowhere. */
  corner(): HourQuestion | null {
    const plans = envelope(this.plans());
    const corners = plans.slice(1).map((b, i) => {
      const a = plans[i]!;
      return { rate: Math.round(crossing(a, b)), area: (b.cost - a.cost) * (a.time - b.time) };
    });
    const open = corners.filter(({ rate }) => !this.asked.includes(rate));
    const [next] = open.sort((a, b) => b.area - a.area);
    return next === undefined ? null : this.atRate(next.rate);
  }

  /**
   * Where corners bring nothing more: a rate in the widest gap between those asked about at which the cheapest plan known
   * is not proven, since a search within a time may have missed one. Null: there is none.
   */
  gap(): HourQuestion | null {
    const rates = this.asked.filter((rate) => rate > 0 && rate < LEAST_TIME).sort((a, b) => a - b);
    if (rates.length === 0) return null;
    const ends = [rates[0]! / END_TIMES, ...rates, Math.min(rates.at(-1)! * END_TIMES, LEAST_TIME)];
    const gaps = ends.slice(1).map((to, i) => {
      const rate = Math.round(Math.sqrt(ends[i]! * to));
      return { rate, times: to / ends[i]! };
    });
    const plans = this.plans();
    const open = gaps.filter(({ rate, times }) => {
      if (times < NEAR_TIMES || this.asked.includes(rate)) return false;
      const least = Math.min(...plans.map((plan) => worthAt(plan, rate)));
      return least - worthAt(this.others!, rate) - boundAt(this.bounds, rate) > 1;
    });
    const [next] = open.sort((a, b) => b.times - a.times);
    return next === undefined ? null : this.atRate(next.rate);
  }

  /** The least time with wood between that of two plans known, for every moulding that has such. */
  between(): HourQuestion | null {
    const available = new Map<string, number>();
    const rates: Cents[] = [];
    for (const { moulding, offers } of this.#orders) {
      const tried = this.#tried.get(moulding)!;
      const found = nextBetween(this.#fronts.get(moulding)!, offers, this.#labour, tried);
      // As before, so that what this moulding comes to is known.
      const pieces =
        found?.pieces ?? offers.map(({ id }) => this.#fronts.get(moulding)![0]?.bought.get(id) ?? 0);
      for (const [k, { id }] of offers.entries()) available.set(id, pieces[k]!);
      if (found === null) continue;
      tried.add(found.pieces.join(' '));
      rates.push(DEAR_TIMES * crossing(found.from, found.to));
    }
    if (rates.length === 0) return null;
    return { rate: Math.min(LEAST_TIME, Math.max(1, Math.round(Math.max(...rates)))), available };
  }
}

/** What to ask next, one or two at a time; none: no better plan is likely. */
function questions(known: HoursKnown, left: number, asked: number): readonly HourQuestion[] {
  const next: HourQuestion[] = [];
  const add = (question: HourQuestion | null): void => {
    if (question !== null && next.length < Math.min(left, TOGETHER)) next.push(question);
  };
  if (asked < CORNERS_FIRST) add(known.corner());
  while (next.length < Math.min(left, TOGETHER)) {
    const before = next.length;
    add(known.between());
    if (next.length < Math.min(left, TOGETHER)) add(known.corner() ?? known.gap());
    if (next.length === before) break;
  }
  return next;
}

/** Asks for plans, two at a time, until no better one is likely or `most` questions have been asked. */
export function* hoursWorth(
  orders: readonly HourOrder[],
  labour: Labour,
  most = QUESTIONS_MOST,
): Generator<readonly HourQuestion[], readonly HourPoint[], readonly (HourAnswer | null)[]> {
  const known = new HoursKnown(orders, labour);
  let next: readonly HourQuestion[] = [known.atRate(0), known.atRate(LEAST_TIME)];
  for (let asked = 0; next.length > 0; next = questions(known, most - asked, asked)) {
    const answers = yield next;
    next.forEach((question, k) => {
      const answer = answers[k] ?? null;
      if (answer !== null) known.learn(question, answer);
    });
    asked += next.length;
  }
  return pointsOf(known.plans(), known.others!, known.bounds);
}
