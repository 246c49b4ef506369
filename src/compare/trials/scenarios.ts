/**
 * Every scenario of one moulding, with as little solving as will do.
 *
 * With more offers to choose from, the cost is never higher. So a scenario costs at most what any part of it does, and the
 * bound of all offers together holds for every scenario. Single offers come first, the most promising two before the others;
 * then all together; then pairs, each started from the best plan of its parts and with every pattern met so far as
 * columns. A scenario is dropped as soon as its bound is above the cheapest plan known: it cannot be the answer.
 */

import type { Scenario } from '../../documents/comparison/types.js';
import type { Cents, Offer } from '../../terms.js';
import { lowestRate } from '../figures.js';
import { KnownPlans } from '../known.js';
import {
  type Made,
  NO_QUESTION,
  type OfferAnswer,
  type OfferInquiry,
  type OfferQuestion,
} from '../question.js';
import { allTogether, keyOf, largerSets, type OfferSet, PAIRED_MOST, singles, within } from './sets.js';

export interface Subject {
  readonly moulding: string;
  readonly offers: readonly Offer[];
  readonly times: number;
  /** Order lines: small orders are looked into further. */
  readonly lines: number;
  /** Rails of the order made once. */
  readonly rails: number;
}

export interface Tried extends OfferSet {
  /** The cheapest known; null: none. */
  readonly plan: Made | null;
  /** The offers that the plan buys, where these are not all. */
  readonly planOf: readonly string[] | null;
  readonly bound: Cents;
  readonly excluded: boolean;
  readonly short: Scenario['short'];
}

export interface Trials {
  readonly tried: readonly Tried[];
  readonly known: KnownPlans;
  /** Pairs were only tried among so many offers; null: among all. */
  readonly paired: number | null;
}

/**
 * Effort in the work of the engine; shares are of the time left when the question is asked. `quick` is about what a first
 * bound and a first good plan take, `contested` is for scenarios that may still be the answer, `proof` for its proof.
 */
const EFFORT = {
  quick: { effort: 130_000, share: 0.04 },
  contested: { effort: 660_000, share: 0.03 },
  proof: { effort: 3_300_000, share: 0.15 },
} as const;
/** Orders of up to so many lines are quick: scenarios that have lost are still solved further for a while. */
const FEW_LINES = 24;
const PATIENCE = 130_000;
/** For those orders the clock is a last resort: the effort ends them long before. */
const FEW_SHARES = 3;
const FEW_SHARE_MOST = 0.5;
const FIRST = 2;

/** Two answers to the same question: the cheaper plan, and all that was proven. */
function joined(a: OfferAnswer, b: OfferAnswer): OfferAnswer {
  if (a.kind === 'none') return b.kind === 'none' && a.proven ? a : b;
  if (b.kind === 'none') return a;
  const bound = Math.max(a.bound, b.bound);
  return { ...(b.cost <= a.cost ? b : a), bound };
}

class Scenarios {
  readonly known = new KnownPlans();
  readonly answers = new Map<string, OfferAnswer>();
  readonly sets: OfferSet[] = [];
  readonly #subject: Subject;

  constructor(subject: Subject) {
    this.#subject = subject;
  }

  #offersOf({ offers }: OfferSet): readonly Offer[] {
    return this.#subject.offers.filter(({ id }) => offers.includes(id));
  }

  cost(set: OfferSet): Cents {
    return this.known.best(this.#offersOf(set))?.cost ?? Number.POSITIVE_INFINITY;
  }

  get cheapest(): Cents | null {
    return this.known.best(this.#subject.offers)?.cost ?? null;
  }

  /** Proven: all offers together make no plan. */
  get hopeless(): boolean {
    const answer = this.answers.get(keyOf(this.#subject.offers.map(({ id }) => id)));
    return answer?.kind === 'none' && answer.proven;
  }

  /** Whether there is anything to learn: not where the bound is met or above the cheapest plan, or where nothing can be made. */
  open(set: OfferSet): boolean {
    const own = this.answers.get(keyOf(set.offers));
    if (this.hopeless || (own?.kind === 'none' && own.proven)) return false;
    const [bound, cost, best] = [this.bound(set), this.cost(set), this.cheapest];
    return cost === Number.POSITIVE_INFINITY || (bound < cost && (best === null || bound <= best));
  }

  question(set: OfferSet, above: Cents | null, how: { effort: number; share: number }): OfferQuestion {
    const { moulding, times, lines } = this.#subject;
    const offers = this.#offersOf(set);
    const few = lines <= FEW_LINES;
    return {
      ...NO_QUESTION,
      moulding,
      offers,
      times,
      start: this.known.start(offers),
      above,
      patience: few ? PATIENCE : 0,
      effort: how.effort,
      share: few ? Math.min(FEW_SHARE_MOST, FEW_SHARES * how.share) : how.share,
    };
  }

  take(sets: readonly OfferSet[], answers: readonly OfferAnswer[]): void {
    sets.forEach((set, i) => {
      const answer = answers[i]!;
      const key = keyOf(set.offers);
      const before = this.answers.get(key);
      if (before === undefined) this.sets.push(set);
      if (answer.kind === 'made') this.known.add(answer);
      this.answers.set(key, before === undefined ? answer : joined(before, answer));
    });
  }

  /** The best bound of any scenario that includes this one's offers. */
  bound({ offers }: OfferSet): Cents {
    let bound = 0;
    for (const set of this.sets) {
      const answer = this.answers.get(keyOf(set.offers));
      if (answer?.kind === 'made' && within(offers, set.offers)) bound = Math.max(bound, answer.bound);
    }
    return bound;
  }

  /** Why there is no plan from these offers: by their own answer, or by that of a larger scenario without one. */
  #short(set: OfferSet): Scenario['short'] {
    const answers = this.sets
      .filter((other) => within(set.offers, other.offers))
      .map((other) => this.answers.get(keyOf(other.offers)));
    const none = answers.flatMap((answer) => (answer?.kind === 'none' && answer.proven ? [answer] : []));
    const [first] = none;
    if (first === undefined) return { why: 'unknown', frames: [] };
    const { tooLong } = none.find((answer) => answer.tooLong.length > 0) ?? first;
    return tooLong.length > 0 ? { why: 'tooLong', frames: tooLong } : { why: 'notEnough', frames: [] };
  }

  tried(set: OfferSet, best: Cents | null): Tried {
    const cheapest = this.known.best(this.#offersOf(set));
    if (cheapest === null) {
      return { ...set, plan: null, planOf: null, bound: 0, excluded: false, short: this.#short(set) };
    }
    const { plan, cost } = cheapest;
    const buys = set.offers.filter((id) => plan.used[id] !== undefined);
    const bound = Math.min(cost, Math.max(this.bound(set), 0));
    return {
      ...set,
      plan,
      planOf: buys.length < set.offers.length ? buys : null,
      bound,
      excluded: bound < cost && best !== null && bound > best,
      short: null,
    };
  }
}

function pairedAmong(scenarios: Scenarios, alone: readonly OfferSet[]): readonly string[] {
  const costs = new Map(alone.map((set) => [set, scenarios.cost(set)]));
  const ranked = [...alone].sort((a, b) =>
    costs.get(a)! < costs.get(b)! ? -1 : costs.get(a) === costs.get(b) ? 0 : 1,
  );
  return ranked.slice(0, PAIRED_MOST).flatMap(({ offers }) => offers);
}

/** Asks about scenarios; each is dropped once its bound is above the cheapest plan known now. */
function* round(
  scenarios: Scenarios,
  sets: readonly OfferSet[],
  how: (typeof EFFORT)[keyof typeof EFFORT],
): OfferInquiry<void> {
  if (sets.length === 0) return;
  const cutoff = scenarios.cheapest;
  scenarios.take(sets, yield sets.map((set) => scenarios.question(set, cutoff, how)));
}

/**
 * With more rails than this, exchanging rails between sticks, the last step of a plan, would take longer than the whole
 * comparison: then all plans are counted as they were found.
 */
const TIDIED_MOST = 300;

/** Each plan that some scenario ends with, laid out once. */
function* laidOut(subject: Subject, tried: readonly Tried[]): OfferInquiry<Tried[]> {
  const { moulding, offers, times, rails } = subject;
  const plans = [...new Set(tried.flatMap(({ plan }) => (plan === null ? [] : [plan])))];
  const rate = lowestRate(offers);
  const how = { ...NO_QUESTION, moulding, times, effort: 0, share: 1 };
  const answers = yield plans.map((plan) => {
    const own = offers.filter(({ id }) => plan.used[id] !== undefined);
    // With no offers at all the goals would differ, and so would the units a plan is counted in.
    const layOut = { rate, tidied: rails * times <= TIDIED_MOST };
    return { ...how, offers: own.length > 0 ? own : offers, start: plan.patterns, layOut };
  });
  const figures = new Map(
    plans.map((plan, i) => [plan, answers[i]?.kind === 'made' ? answers[i].figures : null]),
  );
  return tried.map((one) => ({
    ...one,
    plan: one.plan && { ...one.plan, figures: figures.get(one.plan) ?? null },
  }));
}

export function* tryScenarios(subject: Subject): OfferInquiry<Trials> {
  const { offers } = subject;
  const scenarios = new Scenarios(subject);
  const alone = singles(offers);
  const rate = new Map(offers.map((offer) => [offer.id, offer.price / offer.length]));
  const promising = [...alone].sort((a, b) => rate.get(a.offers[0]!)! - rate.get(b.offers[0]!)!);
  const whole = offers.length > 1 ? [allTogether(offers)] : [];
  yield* round(scenarios, promising.slice(0, FIRST), EFFORT.quick);
  yield* round(scenarios, [...whole, ...promising.slice(FIRST)], EFFORT.quick);
  const among = pairedAmong(scenarios, alone);
  const larger = largerSets(offers, among);
  const every = [...alone, ...larger, ...whole];
  const open = (sets: readonly OfferSet[]): OfferSet[] => sets.filter((set) => scenarios.open(set));
  yield* round(scenarios, open(larger), EFFORT.quick);
  yield* round(scenarios, open(every), EFFORT.contested);
  yield* round(scenarios, open(whole.length > 0 ? whole : alone), EFFORT.proof);
  const cheapest = scenarios.cheapest;
  const tried = every.map((set) => scenarios.tried(set, cheapest));
  return {
    tried: yield* laidOut(subject, tried),
    known: scenarios.known,
    paired: among.length < offers.length ? among.length : null,
  };
}
