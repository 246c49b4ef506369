/**
 * One moulding's work, as the engine's whole numbers on one side and the shop's rails and sticks on the other. A kind
 * of the engine is a mitre angle, an item is what must lie together on a stick, a stock is a pile of equal pieces.
 */
import type { Setups } from '../solve/problem.js';
import type { Offer, PieceEnds, RackEntry, Um } from '../terms.js';
import type { Order } from './lines.js';

/** What one mitre angle means along a stick of this moulding. */
export interface Mitre {
  readonly sides: number;
  readonly angle: number;
  /** k', rounded up. */
  readonly blade: Um;
  /** F·tan θ, rounded down: what two nested neighbours of reversible stock share. */
  readonly nest: Um;
}

/** How rails stand one after the other on a stick. */
export interface Spacing {
  readonly reversible: boolean;
  readonly recut: Um;
  readonly mitres: readonly Mitre[];
}

/** Rails that lie next to each other on one stick: one rail, a pair, or the whole ring of a frame. */
export interface CutItem {
  readonly kind: number;
  /** Lengths in the order along the stick. */
  readonly settings: readonly Um[];
  /** The stop it is cut at; with two stops the longer one. */
  readonly setting: Um;
  readonly second: Um | null;
  readonly weight: number;
}

/** Rails of one copy of an order line that are cut one after the other, and their item: the whole unit, or each rail. */
export interface UnitType {
  readonly line: number;
  readonly sides: readonly string[];
  readonly item: number;
  /** The item is the whole unit; otherwise the unit is `sides.length` single rails. */
  readonly whole: boolean;
  /**
   * How many of the item must be in one run, since they come from one setting of the stop: the rails of a pair or of a
   * ring, or all pairs of a ring cut in pairs; 1 where the item is the whole unit.
   */
  readonly bundle: number;
}

/** A clear span of a stick between trims and flaws, from the stick's left end. */
export interface Lane {
  readonly from: Um;
  readonly to: Um;
}

/** Pieces that differ in nothing but their name. */
export interface Source {
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: Um;
  readonly ends: PieceEnds;
  readonly flaws: RackEntry['flaws'];
  /** What is neither trim nor flaw, and where in it rails may stand: one lane each. */
  readonly clear: readonly Lane[];
  readonly lanes: readonly Lane[];
  /** null: as many as wanted. */
  readonly copies: number | null;
}

/** Sources the engine need not tell apart, in the order their pieces are taken: short ones first. */
export interface Pile {
  readonly sources: readonly Source[];
  /** Which lanes of a source the engine's segments are: those too short for any rail are left out. */
  readonly lanes: readonly number[];
  readonly segments: readonly number[];
  readonly costs: readonly number[];
  readonly supply: number | null;
  /** Only where packs or price breaks apply. */
  readonly offer: Offer | null;
}

/** Money for offers, worth of rack pieces, length of all sticks, length of rack pieces. */
export type GoalName = 'cost' | 'value' | 'length' | 'rack';

/** Rails grouped into what the engine places. */
export interface Grouped {
  readonly spacing: Spacing;
  /** In cutting order. */
  readonly items: readonly CutItem[];
  readonly units: readonly UnitType[];
}

/** Time at a rate, as the engine charges it. */
export interface Charge {
  /** Units of the engine's money in a cent. */
  readonly scale: number;
  /** In those units, by item of the task. */
  readonly setups: Setups;
}

export interface MouldingTask extends Order, Grouped {
  readonly piles: readonly Pile[];
  /** Time at the batch's rate, added to the first goal, which is what is bought; null: time costs nothing. */
  readonly charge: Charge | null;
  /** What the piles' costs are, most important first; the plan's proof is of the goal `proofGoal`. */
  readonly goals: readonly GoalName[];
  readonly proofGoal: number;
}

/** Frames to make of each order line of the task, in the order of `lines`. */
export type Copies = readonly number[];
