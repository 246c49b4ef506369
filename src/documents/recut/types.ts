/**
 * The document `pairstop/recut@1`: the whole shop after a mishap. Every stick with what has been cut from it, what was
 * lost and what is still to be cut; lengths are millimetres, money is units of 100 cents.
 */

import type { Notice } from '../../notices.js';
import type { PieceEnds, Units } from '../../terms.js';
import type { PlacedRail, PlannedRun, PlannedStop, PlanProof, Remainder, ShopPiece } from '../plan/types.js';

export interface RailToCut extends PlacedRail {
  /** Replaces a lost rail. */
  readonly replaces: boolean;
  /** The stick it was to be cut from before. */
  readonly was: string;
}

/** From and to, from the left end of its stick. */
export type FoundFlaw = readonly [from: number, to: number];

/** Sound wood of a spoiled rail, used as a piece of its own: `sticks` name it as from the rack, by this `id`. */
export interface ReusedPiece {
  readonly id: string;
  /** The spoiled rail it is, and the stick that rail was cut from. */
  readonly rail: string;
  readonly stick: string;
  readonly moulding: string;
  readonly length: number;
  readonly ends: PieceEnds;
  readonly flaws: readonly FoundFlaw[];
}

export interface RecutStick {
  readonly stick: string;
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: number;
  /** The run it is cut in. Absent in recuts of older programs, as are the runs of the moulding. */
  readonly run?: number | undefined;
  /** Found at the saw, besides those of the batch; only where there are any. */
  readonly flaws?: readonly FoundFlaw[] | undefined;
  /** Good rails that have been cut: they stay. */
  readonly cut: readonly PlacedRail[];
  /** Where lost rails were: that wood is gone. */
  readonly lost: readonly PlacedRail[];
  /** Still to be cut, from left to right. */
  readonly rails: readonly RailToCut[];
  readonly left: readonly Remainder[];
}

export interface RecutStop extends PlannedStop {
  /** Ends a pair or ring that was begun: cut before the stop moves on. */
  readonly finish: boolean;
  /** A good rail of this length to set the stop against, facing one that is replaced. */
  readonly setBy: string | null;
}

export interface RecutMoulding {
  readonly moulding: string;
  readonly status: 'complete' | 'short';
  /** `value`: cost of what is to be bought now. `bound`: no way of replacing the same rails costs less. */
  readonly proof: PlanProof;
  /** Rails still to be cut that come from another stick than before, replacements not counted. */
  readonly moved: number;
  readonly sticks: readonly RecutStick[];
  /** What is still to be cut, in the order it is cut: what was begun first, then run by run. */
  readonly stops: readonly RecutStop[];
  /** What is still to be cut in each run. */
  readonly runs?: readonly PlannedRun[] | undefined;
  /** What that takes. */
  readonly seconds?: number | undefined;
}

export interface OfferCount {
  readonly moulding: string;
  readonly offer: string;
  readonly count: number;
}

export interface RecutPurchase extends OfferCount {
  readonly cost: number;
}

/** Lost rails that nothing left can replace. */
export interface RecutShortfall {
  readonly moulding: string;
  /** Frame copies that cannot be completed. */
  readonly frames: readonly string[];
  /** Their rails that are not cut. */
  readonly rails: readonly string[];
  /** Stock length, millimetres, that would complete them: of offered sticks where there are offers, else in one run. */
  readonly needs: number;
  /** What to buy for it, were it for sale, and what that costs; empty and null without offers. */
  readonly buy: readonly RecutPurchase[];
  readonly cost: number | null;
}

export interface RecutTotals {
  readonly lost: number;
  readonly replaced: number;
  readonly moved: number;
  /** Good rails cut, and rails still to be cut. */
  readonly cut: number;
  readonly toCut: number;
  readonly stopSettings: number;
  /** What is to be bought now. */
  readonly cost: number;
  /** What sawing the rest takes. Absent in recuts of older programs. */
  readonly seconds?: number | undefined;
}

export interface Recut {
  readonly schema: 'pairstop/recut@1';
  readonly batch: string;
  readonly units: Units;
  readonly status: 'complete' | 'short';
  /** The rails that were lost, those cut from wood that turned out flawed among them. */
  readonly lost: readonly string[];
  /** Where the cuts so far are known from: told, or all up to the last lost rail in the plan's order. */
  readonly cutSoFar: 'told' | 'order';
  readonly mouldings: readonly RecutMoulding[];
  /** Pieces bought before. */
  readonly bought: readonly OfferCount[];
  readonly buy: readonly RecutPurchase[];
  readonly totals: RecutTotals;
  readonly shortfall: readonly RecutShortfall[];
  readonly notices: readonly Notice[];
  /** Only where wood of spoiled rails is used again. */
  readonly reused?: readonly ReusedPiece[] | undefined;
  /** As in the plan, where that was made from the shop's rack. */
  readonly rack?: readonly ShopPiece[] | undefined;
}
