/**
 * The cutting-stock problem the engine solves, in whole numbers only. It knows nothing of frames: the stock stage
 * turns rails and sticks into weights and capacities, the layout stage turns patterns back into rails on sticks.
 *
 * A pattern says how many of each item one piece of one stock yields. It is feasible when, segment by segment,
 *
 *     start[kind of first] + Σ weight + Σ joint[kind][next kind]  ≤  capacity
 *
 * with the items of a segment taken in index order (the cutting order). `kinds` is absent when all items are of one
 * kind: then only Σ weight ≤ capacity counts. It is proper when it holds no more of an item than is asked for.
 */

export interface Item {
  /** Positive safe integer: length used on the stick, joint included. */
  readonly weight: number;
  /** How many are needed, at least 1. */
  readonly demand: number;
  /** Index into `Kinds`; 0 when there is one kind only. */
  readonly kind: number;
}

/** Extra lengths, non-negative whole numbers, that depend on which kinds of item meet. */
export interface Kinds {
  readonly start: readonly number[];
  readonly joint: readonly (readonly number[])[];
}

export interface PriceTier {
  readonly from: number;
  readonly price: number;
}

/** How a stock is paid for when one number a piece does not say it: n pieces cost min over m ≥ n sold of m·price(m). */
export interface Purchase {
  readonly pack: number;
  /** Sorted by `from`, the first from 1; the tier of the whole purchase prices every piece of it. */
  readonly tiers: readonly PriceTier[];
}

export interface Stock {
  /** One capacity per segment, whole numbers ≥ 0, in order along the piece; one price for all of them. */
  readonly segments: readonly number[];
  /** Cost of one piece under each goal, whole numbers ≥ 0; goals in order of importance. */
  readonly costs: readonly number[];
  /** null: unlimited. */
  readonly supply: number | null;
  /** Applies to goal 0 only. */
  readonly purchase: Purchase | null;
}

/** Whole numbers ≥ 0, added to goal 0: handling that is paid for whatever the wood costs. */
export interface Setups {
  /** For each item: once for every piece that any of it is cut from (a fixed charge, or set-up). */
  readonly item: readonly number[];
  /** For every piece that is cut. */
  readonly piece: number;
}

export interface Problem {
  readonly items: readonly Item[];
  readonly stocks: readonly Stock[];
  readonly kinds: Kinds | null;
  /** How many goals each stock has costs for, at least 1. */
  readonly goals: number;
  /** Absent or null: none. */
  readonly setups?: Setups | null;
}

/** One way of cutting one stock: for each segment, how many of each item (index → count), and how often it is cut. */
export interface Pattern {
  readonly stock: number;
  readonly count: number;
  readonly segments: readonly (readonly PatternEntry[])[];
}

export interface PatternEntry {
  readonly item: number;
  readonly count: number;
}

/**
 * How far one goal got, the earlier goals held at their values: `optimal` means value = bound, by a bound that an
 * exact re-check has proved; `within` a proven bound below the value; `unproven` no bound beyond the trivial one.
 */
export interface Proof {
  readonly status: 'optimal' | 'within' | 'unproven';
  readonly value: number;
  readonly bound: number;
}

export interface Solved {
  readonly kind: 'solved';
  /** Exactly the demand, every item: nothing more, nothing less. */
  readonly patterns: readonly Pattern[];
  readonly proofs: readonly Proof[];
  /** Done so far, in the units of `SolveOptions.work`. */
  readonly work: number;
}

/** No plan makes every item: proven, or just none found before the search ended. */
export interface NoPlan {
  readonly kind: 'none';
  readonly proven: boolean;
  readonly work: number;
}

export type Outcome = Solved | NoPlan;

export interface SolveOptions {
  /** Milliseconds from an arbitrary origin, never going back; the engine reads no other clock. */
  readonly now: () => number;
  /** On the same scale: stop then, with the best so far. */
  readonly deadline: number;
  readonly seed: number;
  /**
   * Most work the search may do, in units of some two microseconds, counted and not timed: the same problem and seed end
   * alike on any machine unless the clock ends them first. By default without limit.
   */
  readonly work?: number;
  /**
   * Asked at every improvement of the plan or its bound: after how much work, in all, the search may end with it.
   * Infinity: it should go on.
   */
  readonly enough?: (solved: Solved) => number;
  /**
   * Asked at every improvement likewise, by the work it was met at: the search ends after so much work, in all, if
   * nothing better is met before. Each answer stands in the place of the one before.
   */
  readonly patience?: (work: number) => number;
  /** Called with every improvement of the plan or of its bound, in order; must not throw. */
  readonly onImproved?: (solved: Solved) => void;
  /** Asked now and then; true stops the search as the deadline does. */
  readonly stopped?: () => boolean;
  /** Patterns known from an earlier solve of this or a like problem; those that do not fit are dropped. */
  readonly start?: readonly Pattern[];
}
