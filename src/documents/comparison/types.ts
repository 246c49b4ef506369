/** The document `pairstop/comparison@1`. Lengths are millimetres, money is units of 100 cents. */

import type { Units } from '../../terms.js';
import type { PlannedPurchase, ShopPiece } from '../plan/types.js';

/** What a plan makes of its sticks. In large orders the figures are those of the plans as found: a finished plan may keep more offcuts and take fewer visits. */
export interface ScenarioFigures {
  /** Sticks cut, from the rack and bought. */
  readonly sticks: number;
  readonly stockLength: number;
  readonly railLength: number;
  readonly wasteLength: number;
  readonly yield: number;
  /** What goes back on the rack, and what its length would cost at the lowest price a length of the moulding's offers. */
  readonly offcuts: { readonly count: number; readonly length: number; readonly worth: number };
  /** Written by earlier versions, before pairs were kept together; a plan says how often a stick is taken to the saw. */
  readonly stopVisits?: number | undefined;
  readonly stopSettings: number;
  /** What the sawing takes, in runs that the bench holds. A finished plan keeps pairs together and takes a little less. Absent in older documents. */
  readonly seconds?: number | undefined;
  /** What is paid for, divided by length: rails, waste, and what is kept (offcuts, and pieces bought but not cut). */
  readonly split: { readonly rail: number; readonly waste: number; readonly offcut: number };
}

/**
 * `optimal`: value = bound. `within`: a proven bound below the value. `excluded`: the search was stopped
 * early, since the bound says that these offers cannot be the answer. `unproven`: no bound.
 */
export interface ScenarioProof {
  readonly status: 'optimal' | 'within' | 'excluded' | 'unproven';
  readonly value: number;
  readonly bound: number;
}

export type ScenarioKind = 'one' | 'two' | 'supplier' | 'all';

export interface Scenario {
  readonly kind: ScenarioKind;
  /** Ids of the offers that may be bought, in the order of the batch. */
  readonly offers: readonly string[];
  /** Set for `supplier`. */
  readonly supplier: string | null;
  /** `short`: no plan makes the order from these offers and the rack. */
  readonly status: 'complete' | 'short';
  /** Why it is short: `tooLong`, of the order lines `frames`; `notEnough`; `unknown`: none was found in time. */
  readonly short: {
    readonly why: 'tooLong' | 'notEnough' | 'unknown';
    readonly frames: readonly string[];
  } | null;
  /** Null when short. */
  readonly proof: ScenarioProof | null;
  /** The offers that the cheapest plan buys, where these are not all; null: all of them. */
  readonly planOf: readonly string[] | null;
  readonly buy: readonly PlannedPurchase[];
  readonly figures: ScenarioFigures | null;
}

/**
 * A price found by planning again at prices a cent apart; `proven` says that both sides of it are proven. If they are
 * not, the true price lies between this one and the offer's own (for `aloneTies`: it is this one or higher).
 */
export interface PriceFound {
  readonly price: number;
  readonly proven: boolean;
}

/** Prices of an offer with packs or price breaks move together; `price` is the one of a single piece. */
export interface BreakEven {
  readonly offer: string;
  readonly price: number;
  /** Part of the recommended purchase. */
  readonly bought: boolean;
  /** Highest price at which this offer alone costs no more than the recommended purchase; null: at none. */
  readonly aloneTies: PriceFound | null;
  /** The recommended purchase costs least from this price … ; null: from 0. */
  readonly from: PriceFound | null;
  /** … to this one; null: however dear. */
  readonly to: PriceFound | null;
  /** False: the recommended purchase is not proven to cost least, so no price can be proven either. */
  readonly known: boolean;
}

export interface WhatIf {
  readonly what: 'maxLength' | 'singlePieces' | 'shortBy';
  /** The length asked about, in millimetres; null where there is none. */
  readonly length: number | null;
  readonly status: 'complete' | 'short';
  readonly buy: readonly PlannedPurchase[];
  readonly cost: number | null;
  readonly bound: number | null;
  /** Against the recommended purchase; negative: it saves. */
  readonly difference: number | null;
  /** For `shortBy`: whether the recommended pieces still make the order; null: not known, or not asked. */
  readonly stillEnough: boolean | null;
}

export interface Spare {
  /** Share of bad sticks among those bought. */
  readonly share: number;
  readonly runs: number;
  /** Runs in which fewer pieces might do: the search was stopped early. */
  readonly undecided: number;
  readonly seed: number;
  /** Sticks of the recommended purchase, all of them good. */
  readonly pieces: number;
  /** The offers from which further pieces are taken, in that order. */
  readonly more: readonly string[];
  readonly model: string;
  /** In `of100` of 100 runs, `pieces` sticks or fewer make the order; null: more sticks than were tried. */
  readonly levels: readonly { readonly of100: number; readonly pieces: number | null }[];
  /** For each number of pieces, in how many of 100 runs they make the order. */
  readonly odds: readonly { readonly pieces: number; readonly of100: number }[];
}

export interface GrownScenario {
  readonly offers: readonly string[];
  readonly kind: ScenarioKind;
  readonly status: 'complete' | 'short';
  readonly cost: number | null;
  readonly bound: number | null;
}

export interface Growth {
  readonly times: number;
  /** `unknown`: no plan was found in time. */
  readonly status: 'complete' | 'short' | 'unknown';
  readonly offers: readonly string[];
  readonly buy: readonly PlannedPurchase[];
  readonly cost: number | null;
  readonly bound: number | null;
  /** Of one order. */
  readonly costPerOrder: number | null;
  readonly yield: number | null;
  /** The cheapest offer alone. */
  readonly bestAlone: string | null;
  readonly scenarios: readonly GrownScenario[];
}

/** 2(w+h) + 8·face a frame, and a share for waste: common practice, no source. */
export interface Footage {
  readonly net: number;
  readonly wasteShare: number;
  readonly length: number;
  /** Length of the sticks the recommended plan uses. */
  readonly planned: number;
  /** length / planned − 1. */
  readonly off: number | null;
  /** The rule in whole sticks of the cheapest single offer, and what the plan of that offer alone uses. */
  readonly sticks: { readonly offer: string; readonly rule: number; readonly planned: number } | null;
}

export interface Recommendation {
  readonly sentence: string;
  readonly offers: readonly string[];
  readonly buy: readonly PlannedPurchase[];
  readonly cost: number | null;
  readonly bound: number | null;
  /** The cheapest scenario without all of these offers, and what the recommendation saves against it. */
  readonly nextBest: readonly string[] | null;
  readonly saves: number | null;
  /** What it saves at least, by the proven bound of the next best. */
  readonly savesAtLeast: number | null;
}

export interface MouldingComparison {
  readonly moulding: string;
  readonly status: 'complete' | 'short';
  readonly recommendation: Recommendation;
  readonly scenarios: readonly Scenario[];
  readonly breakEven: readonly BreakEven[];
  readonly whatIf: readonly WhatIf[];
  readonly spare: Spare | null;
  readonly growth: readonly Growth[];
  readonly footage: Footage;
}

/** Buying every moulding from these suppliers; orders below a supplier's minimum are charged at the minimum. */
export interface SupplierRow {
  readonly suppliers: readonly string[];
  readonly status: 'complete' | 'short';
  readonly cost: number | null;
  /** With the minimum orders. */
  readonly payable: number | null;
  readonly bound: number | null;
}

export interface Comparison {
  readonly schema: 'pairstop/comparison@1';
  readonly batch: string;
  readonly units: Units;
  /** `short`: some moulding's order cannot be made from all of its offers, or frames were skipped. */
  readonly status: 'complete' | 'short';
  readonly recommendation: string;
  /** `length`: no offer has a price of its own, so money is length in the batch's units. */
  readonly measure: 'cost' | 'length';
  readonly totals: { readonly cost: number; readonly bound: number; readonly sticks: number };
  readonly mouldings: readonly MouldingComparison[];
  readonly suppliers: readonly SupplierRow[];
  /** Order lines that nothing of the batch can hold: it has them skipped, and all else is of the others. */
  readonly skipped?: readonly string[] | undefined;
  /** Only where the batch draws on the shop's rack: the pieces that were free. Nothing of them is reserved. */
  readonly rack?: readonly ShopPiece[] | undefined;
  readonly notices: readonly string[];
}
