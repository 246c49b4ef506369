/**
 * What a comparison asks: one moulding's order from some of its offers, perhaps at other prices or lengths. Questions
 * and answers are plain and small, so they can go to solver processes. The comparison asks them, as generators;
 * how they are answered is left to the caller.
 */

import type { ScenarioFigures } from '../documents/comparison/types.js';
import type { PatternEntry } from '../solve/problem.js';
import type { Cents, Offer, RackEntry } from '../terms.js';

/** A pattern by the name of what it cuts, so that it can be handed to a question with other offers. */
export interface NamedPattern {
  /** `offer ID` or `rack ID`. */
  readonly stock: string;
  /** 0: only a column to start from. */
  readonly count: number;
  readonly segments: readonly (readonly PatternEntry[])[];
}

export interface OfferQuestion {
  readonly moulding: string;
  /** With the prices and lengths of this question. */
  readonly offers: readonly Offer[];
  /** Sticks used as if they were on the rack. */
  readonly rack: readonly RackEntry[];
  /** How many times over the order is made. */
  readonly times: number;
  /** The best plan known, then columns with count 0. */
  readonly start: readonly NamedPattern[];
  /** Stop once it is proven that every plan costs more than this. */
  readonly above: Cents | null;
  /** Stop once a plan costs less than this. */
  readonly below: Cents | null;
  /** Work the search may do, in the engine's units: the same on any machine. */
  readonly effort: number;
  /** Work it does at least, even when the bound has passed `above`. */
  readonly patience: number;
  /** The share it may take of the time left to the whole comparison. */
  readonly share: number;
  /**
   * Nothing is solved: the plan in `start` is only laid out and counted. `rate`: what a micrometre of an
   * offcut is worth, in cents. `tidied`: rails are first exchanged between sticks as in a plan.
   */
  readonly layOut: { readonly rate: number; readonly tidied: boolean } | null;
}

/** `made`: a plan makes everything. `none`: proven or not, no plan was found. */
export type OfferAnswer = Made | NotMade;

export interface Made {
  readonly kind: 'made';
  readonly cost: Cents;
  /** Proven: no plan from these offers costs less. */
  readonly bound: Cents;
  /** Pieces cut, by offer. */
  readonly used: Readonly<Record<string, number>>;
  readonly patterns: readonly NamedPattern[];
  /** Set where the plan was laid out. */
  readonly figures: ScenarioFigures | null;
}

export interface NotMade {
  readonly kind: 'none';
  /** Proven that there is no plan. */
  readonly proven: boolean;
  /** Order lines with a rail, or rails that must lie together, longer than any stick. */
  readonly tooLong: readonly string[];
}

/** The answer to a question for which no time was left. */
export const UNANSWERED: NotMade = { kind: 'none', proven: false, tooLong: [] };

/** A wave of questions that do not wait for each other. */
export type OfferInquiry<T> = Generator<readonly OfferQuestion[], T, readonly OfferAnswer[]>;

export const NO_QUESTION: Pick<
  OfferQuestion,
  'rack' | 'times' | 'start' | 'above' | 'below' | 'patience' | 'layOut'
> = {
  rack: [],
  times: 1,
  start: [],
  above: null,
  below: null,
  patience: 0,
  layOut: null,
};

/** Asks one question. */
export function* ask(question: OfferQuestion): OfferInquiry<OfferAnswer> {
  const [answer] = yield [question];
  return answer!;
}

/** Runs several inquiries side by side: each wave holds the next questions of all that are not done, equal ones once. */
export function* together<T>(lines: readonly OfferInquiry<T>[]): OfferInquiry<T[]> {
  const results = new Map<number, T>();
  const open = lines.map((line, i) => ({ i, line, step: line.next() }));
  for (;;) {
    const asking = open.filter(({ i, step }) => {
      if (step.done === true) results.set(i, step.value);
      return step.done !== true;
    });
    if (asking.length === 0) break;
    const waves = asking.map(({ step }) => step.value as readonly OfferQuestion[]);
    const different = [...new Set(waves.flat())];
    const answers = yield different;
    const answered = new Map(different.map((question, i) => [question, answers[i]!]));
    asking.forEach((one, w) => {
      one.step = one.line.next(waves[w]!.map((question) => answered.get(question)!));
    });
    open.splice(0, open.length, ...asking);
  }
  return lines.map((_, i) => results.get(i)!);
}
