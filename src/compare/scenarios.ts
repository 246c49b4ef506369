/**
 * Every scenario of one moulding, with as little solving as will do.
 *
 * Whoever may buy more offers pays no more: so the value of a scenario is at most that of any part of it, and the bound
 * of all offers together holds for every scenario. Single offers come first, the most promising two before the others;
 * then all together; then pairs, each started from the best plan of its parts and with every pattern met so far as
 * columns. A scenario is left as soon as its bound is above the cheapest plan known: it cannot be the answer.
 */
import type { Cents, Offer } from '../terms.js';
import { lowestRate } from './figures.js';
import { Known } from './known.js';
import { type Answer, type Asking, type Made, NO_QUESTION, type Question } from './question.js';
import { allTogether, keyOf, largerSets, type OfferSet, PAIRED_MOST, singles, within } from './sets.js';
import type { Scenario } from './types.js';

export interface Subject {
  readonly moulding: string;
  readonly offers: readonly Offer[];
  readonly times: number;
  /** Order lines: small orders are looked into further. */
  readonly lines: number;
}

export interface Tried extends OfferSet {
  /** Own, or that of a part; null: none. */
  readonly plan: Made | null;
  /** Set where the plan is that of a part. */
  readonly planOf: readonly string[] | null;
  readonly bound: Cents;
  readonly excluded: boolean;
  readonly short: Scenario['short'];
}

export interface Trials {
  readonly tried: readonly Tried[];
  readonly known: Known;
  /** Pairs were only tried among so many offers; null: among all. */
  readonly paired: number | null;
}

/** Effort in looks at the clock; shares are of the time left when the question is asked. */
const EFFORT = {
  single: { effort: 400, share: 0.15 },
  all: { effort: 300, share: 0.1 },
  pair: { effort: 250, share: 0.05 },
  proof: { effort: 1500, share: 0.2 },
} as const;
/** Orders of so many lines are quick: their losers are solved on for a while. */
const FEW_LINES = 24;
const PATIENCE = 150;
const FIRST = 2;

/** Two answers to the same question: the cheaper plan, and all that was proven. */
function joined(a: Answer, b: Answer): Answer {
  if (a.kind === 'none') return b.kind === 'none' && a.proven ? a : b;
  if (b.kind === 'none') return a;
  const bound = Math.max(a.bound, b.bound);
  return { ...(b.cost <= a.cost ? b : a), bound };
}

class Scenarios {
  readonly known = new Known();
  readonly answers = new Map<string, Answer>();
  readonly sets: OfferSet[] = [];
  readonly #subject: Subject;
  readonly #rate: number;

  constructor(subject: Subject) {
    this.#subject = subject;
    this.#rate = lowestRate(subject.offers);
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

  /** All offers together make no plan. */
  get hopeless(): boolean {
    const answer = this.answers.get(keyOf(this.#subject.offers.map(({ id }) => id)));
    return answer?.kind === 'none' && answer.proven;
  }

  question(set: OfferSet, above: Cents | null, how: { effort: number; share: number }): Question {
    const { moulding, times, lines } = this.#subject;
    const offers = this.#offersOf(set);
    return {
      ...NO_QUESTION,
      moulding,
      offers,
      times,
      start: this.known.start(offers),
      above,
      patience: lines <= FEW_LINES ? PATIENCE : 0,
      figures: { rate: this.#rate },
      ...how,
    };
  }

  take(sets: readonly OfferSet[], answers: readonly Answer[]): void {
    sets.forEach((set, i) => {
      const answer = answers[i]!;
      const key = keyOf(set.offers);
      const before = this.answers.get(key);
      if (before === undefined) this.sets.push(set);
      if (answer.kind === 'made') this.known.add(answer);
      this.answers.set(key, before === undefined ? answer : joined(before, answer));
    });
  }

  /** The best bound of any scenario that holds this one's offers. */
  bound({ offers }: OfferSet): Cents {
    let bound = 0;
    for (const set of this.sets) {
      const answer = this.answers.get(keyOf(set.offers));
      if (answer?.kind === 'made' && within(offers, set.offers)) bound = Math.max(bound, answer.bound);
    }
    return bound;
  }

  /** No plan from these offers: what is wrong with those alone, or the larger scenario that has none either. */
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
    const own = this.answers.get(keyOf(set.offers));
    const cheapest = this.known.best(this.#offersOf(set));
    if (cheapest === null) {
      return { ...set, plan: null, planOf: null, bound: 0, excluded: false, short: this.#short(set) };
    }
    const { plan, cost } = cheapest;
    const mine = own?.kind === 'made' && own.cost === cost;
    const bound = Math.min(cost, Math.max(this.bound(set), 0));
    return {
      ...set,
      plan: mine ? own : plan,
      planOf: mine ? null : set.offers.filter((id) => plan.used[id] !== undefined),
      bound,
      excluded: bound < cost && best !== null && bound > best,
      short: null,
    };
  }
}

/** Whether there is anything to learn: not where a part meets the bound already, or where no offers at all suffice. */
function open(scenarios: Scenarios, set: OfferSet): boolean {
  if (scenarios.hopeless) return false;
  const cost = scenarios.cost(set);
  return cost === Number.POSITIVE_INFINITY || scenarios.bound(set) < cost;
}

function pairedAmong(scenarios: Scenarios, alone: readonly OfferSet[]): readonly string[] {
  const costs = new Map(alone.map((set) => [set, scenarios.cost(set)]));
  const ranked = [...alone].sort((a, b) =>
    costs.get(a)! < costs.get(b)! ? -1 : costs.get(a) === costs.get(b) ? 0 : 1,
  );
  return ranked.slice(0, PAIRED_MOST).flatMap(({ offers }) => offers);
}

export function* tryScenarios(subject: Subject): Asking<Trials> {
  const { offers } = subject;
  const scenarios = new Scenarios(subject);
  const alone = singles(offers);
  const rate = new Map(offers.map((offer) => [offer.id, offer.price / offer.length]));
  const promising = [...alone].sort((a, b) => rate.get(a.offers[0]!)! - rate.get(b.offers[0]!)!);
  const first = promising.slice(0, FIRST);
  const asked = first.map((set) => scenarios.question(set, null, EFFORT.single));
  scenarios.take(first, yield asked);
  const rest = promising.slice(FIRST);
  const all = offers.length > 1 ? [allTogether(offers)] : [];
  const best = scenarios.cheapest;
  const second = [
    ...all.map((set) => scenarios.question(set, null, EFFORT.all)),
    ...rest.map((set) => scenarios.question(set, best, EFFORT.single)),
  ];
  if (second.length > 0) scenarios.take([...all, ...rest], yield second);
  const among = pairedAmong(scenarios, alone);
  const larger = largerSets(offers, among);
  const asking = larger.filter((set) => open(scenarios, set));
  if (asking.length > 0) {
    const cutoff = scenarios.cheapest;
    scenarios.take(asking, yield asking.map((set) => scenarios.question(set, cutoff, EFFORT.pair)));
  }
  const [whole] = all;
  if (whole !== undefined && open(scenarios, whole)) {
    scenarios.take([whole], yield [scenarios.question(whole, null, EFFORT.proof)]);
  }
  const cheapest = scenarios.cheapest;
  return {
    tried: [...alone, ...larger, ...all].map((set) => scenarios.tried(set, cheapest)),
    known: scenarios.known,
    paired: among.length < offers.length ? among.length : null,
  };
}
