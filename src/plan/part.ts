/**
 * The plan of one moulding, as it travels: from a solver process to the store and on to whoever assembles the batch's
 * plan. Plain JSON, and complete: assembling needs the batch and the parts, and no engine.
 */

import type {
  HandlingFigures,
  MouldingPlan,
  PlannedPurchase,
  PlanProof,
  Shortfall,
} from '../documents/plan/types.js';
import type { Notice } from '../notices.js';
import type { Pattern } from '../solve/problem.js';
import type { Copies } from '../stock/task.js';
import type { Cents, Ms, Um } from '../terms.js';

/** Totals of one moulding, exact: micrometres and cents. */
export interface PartTotals {
  readonly sticks: number;
  readonly stockLength: Um;
  readonly railLength: Um;
  readonly offcutLength: Um;
  readonly cost: Cents;
  readonly stopSettings: number;
  readonly cuts: number;
  /** Over all runs, and the least there can be. */
  readonly stopsSet: { readonly value: number; readonly bound: number };
  /** What the sawing takes. */
  readonly time: Ms;
  readonly handling: HandlingFigures;
  /** Without merging; null where the batch does not ask for it. */
  readonly unmerged: { readonly stopSettings: number; readonly cost: Cents } | null;
}

/** Settings that rails were merged to, for a later run to go on from. */
export interface MergedStops {
  /** One for each size of each order line of the moulding. */
  readonly lengths: readonly Um[];
  readonly patterns: readonly Pattern[];
}

/** The least wood that some frames of a moulding take. */
export interface MouldingAlone {
  /** Frames, and how many of them can be made. */
  readonly ordered: number;
  readonly made: number;
  readonly cost: Cents;
  /** Proven: no plan of as many frames costs less. */
  readonly bound: Cents;
  readonly sticks: number;
  readonly length: Um;
}

/** What one batch of a pool would come to alone, in one moulding. */
export interface PartAlone extends MouldingAlone {
  /** Its place in `Batch.batches`. */
  readonly at: number;
}

/** Several batches of a pool without the others: the least cost known, and a proven bound of it. */
export interface Coalition {
  readonly members: readonly number[];
  readonly cost: Cents;
  readonly bound: Cents;
}

export interface PartPooling {
  /** Of the batches that order something of the moulding, in the order of arrival; fewer where the time was over. */
  readonly alone: readonly PartAlone[];
  readonly coalitions: readonly Coalition[];
  /** Which groups of batches were planned: all of them, all pairs, or only each batch by itself. */
  readonly checked: 'all' | 'pairs' | 'none';
}

export interface MouldingPart {
  readonly moulding: string;
  readonly plan: MouldingPlan;
  readonly buy: readonly PlannedPurchase[];
  readonly totals: PartTotals;
  readonly shortfall: Shortfall | null;
  /** No plan makes more frames. */
  readonly shortfallProven: boolean;
  readonly notices: readonly Notice[];
  /** For a later run to go on from: frames made of each order line, and the engine's patterns for them. */
  readonly copies: Copies;
  /** Every rail at its own setting. */
  readonly patterns: readonly Pattern[];
  readonly merged: MergedStops | null;
  /** Only in a pooled batch: what its batches would come to alone. */
  readonly pooling?: PartPooling;
}

/** A moulding without a part, and why it has none. */
export interface Unplanned {
  readonly moulding: string;
  readonly code: string;
  readonly message: string;
}

/** How far the search of a moulding has got; cheap to hand out, unlike the part itself. */
export interface Improvement {
  readonly moulding: string;
  readonly proof: PlanProof;
  /** Frames in this plan and frames ordered. */
  readonly frames: number;
  readonly ordered: number;
  /** Lays the plan out; a few milliseconds for each thousand rails. */
  readonly part: () => MouldingPart;
}

export interface PlanOptions {
  /** Milliseconds from an arbitrary origin, never going back. */
  readonly now: () => number;
  /** On the same scale: stop then, with the best so far. */
  readonly deadline: number;
  readonly seed: number;
  readonly onImproved?: (improvement: Improvement) => void;
  /** Asked now and then; true stops the search as the deadline does. */
  readonly stopped?: () => boolean;
  /** The part of an earlier run of the same batch. */
  readonly start?: MouldingPart;
  /** Nobody will cut it: once its wood is proven, only a little time goes into later goals and into its handling. */
  readonly brisk?: boolean;
  /** Only the wood is searched for: runs and pairs have their turn later, from this part. */
  readonly woodOnly?: boolean;
}
