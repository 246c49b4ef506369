/** The plan document `pairstop/plan@1`, as other software reads it. Lengths are millimetres, money is units of 100 cents. */
import type { Notice } from '../../notices.js';
import type { PieceEnds, Units } from '../../terms.js';
import type { PlannedBatch, PlanPooling } from './pooled.js';

export interface PlacedRail {
  readonly rail: string;
  readonly frame: string;
  readonly side: string;
  /** Where the long edge begins, from the stick's left end. */
  readonly start: number;
  /** Equal to the setting (or second stop) it is cut at. */
  readonly length: number;
  readonly angle: number;
  readonly flipped: boolean;
  /** The short mark written on it, unique in the plan. Absent in plans of older programs. */
  readonly tag?: string | undefined;
}

export interface Remainder {
  readonly from: number;
  readonly to: number;
  readonly use: 'offcut' | 'waste';
  /** Of an offcut: as it is entered in a rack. Absent in documents of older programs. */
  readonly piece?: OffcutPiece | undefined;
}

/** An offcut as it lies there, end trim included. */
export interface OffcutPiece {
  /** What a tape measures along the outside edge. */
  readonly length: number;
  readonly ends: PieceEnds;
}

export interface PlannedStick {
  /** `ref/copy number`. */
  readonly stick: string;
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: number;
  /** The run it is cut in. Absent in plans of older programs, which are cut in one run. */
  readonly run?: number | undefined;
  readonly rails: readonly PlacedRail[];
  readonly left: readonly Remainder[];
}

export interface PlannedPair {
  readonly frame: string;
  readonly rails: readonly string[];
}

export interface PlannedStop {
  /** 1, 2, …: a group of sticks cut to the end before the next group is begun. Absent in plans of older programs. */
  readonly run?: number | undefined;
  /** Mitre angle of its rails; null where they differ, then each rail has its own. Absent in plans of older programs. */
  readonly angle?: number | null | undefined;
  readonly setting: number;
  readonly second: number | null;
  readonly gauge: string | null;
  readonly pairs: readonly PlannedPair[];
}

export interface PlanProof {
  readonly status: 'optimal' | 'within' | 'unproven';
  readonly measure: 'cost' | 'length';
  readonly value: number;
  readonly bound: number;
}

/** How much there is to handle at the saw and to put away. */
export interface HandlingFigures {
  /** How often a stick is taken up, stop setting by stop setting, in the order of the pairs. */
  readonly visits: number;
  /** Different ways sticks are cut: length of the stick, and the rails on it with their places. */
  readonly layouts: number;
  /** Opposing rails from two different sticks. */
  readonly splitPairs: number;
  /** Offcuts to keep. */
  readonly offcuts: number;
}

/** What a moulding takes, with stops merged or not. */
export interface WayOfCutting {
  readonly stopSettings: number;
  readonly sticks: number;
  readonly stockLength: number;
  readonly cost: number;
  /** Proven for these settings: no plan is below this in what the moulding's proof measures. */
  readonly bound: number;
}

/** With and without merging, where the batch asks to merge stop settings. */
export interface MergingFigures {
  /** Every rail at its own setting. */
  readonly unmerged: WayOfCutting;
  /** As planned. */
  readonly merged: WayOfCutting;
  /** No fewer settings serve every rail within its play. */
  readonly leastSettings: number;
  /** How many choices of settings were solved, the best of which is planned; 0 where every rail kept its own. */
  readonly choices: number;
}

/** Why a moulding has no plan. */
export interface WhyUnplanned {
  /** From the catalogue of errors. */
  readonly code: string;
  readonly message: string;
}

/** A group of sticks that is cut to the end before the next group is begun. */
export interface PlannedRun {
  readonly run: number;
  readonly sticks: number;
  /** Stops set in it: a second stop counts too. */
  readonly settings: number;
  /**
   * Most sticks begun at once, stop by stop: each counts from the first stop that cuts it to the last. Sticks that one
   * stop cuts whole are taken one after the other and count as one.
   */
  readonly begunMost: number;
  /** The same with the longest setting first; only where the run's settings come in another order. */
  readonly begunLongestFirst?: number | undefined;
  /** What cutting it takes. */
  readonly seconds: number;
}

/** What is proven of how often stops are set: `bound` holds for every plan from the same pieces, in runs for the bench. */
export interface StopsProof {
  readonly status: 'optimal' | 'within';
  readonly measure: 'stops';
  readonly value: number;
  readonly bound: number;
}

/** Stops set over all runs: one for each stop of the plan, and one more for its second stop. */
export interface StopsSet {
  readonly value: number;
  readonly proof: StopsProof;
}

/** Wood bought plus time at the batch's rate: what the plan minimises where there is a rate. */
export interface PricedFigures {
  readonly status: PlanProof['status'];
  readonly value: number;
  /** No plan comes to less. */
  readonly bound: number;
}

export interface MouldingPlan {
  readonly moulding: string;
  readonly status: 'complete' | 'short';
  /** Only where it could not be planned: nothing is cut, and all its frames are in the shortfall. */
  readonly unplanned?: WhyUnplanned | undefined;
  readonly proof: PlanProof;
  /** Only where the batch has a rate, and the moulding offers. */
  readonly priced?: PricedFigures | undefined;
  readonly sticks: readonly PlannedStick[];
  /** In the order of work. */
  readonly stops: readonly PlannedStop[];
  /** Absent in plans of older programs, as are `seconds` and `stopsSet`. */
  readonly runs?: readonly PlannedRun[] | undefined;
  /** What cutting takes, by the times of the batch. */
  readonly seconds?: number | undefined;
  readonly stopsSet?: StopsSet | undefined;
  /** Absent in plans of older programs. */
  readonly handling?: HandlingFigures | undefined;
  /** Only where the batch asks for merging. */
  readonly merging?: MergingFigures | undefined;
}

export interface PlannedPurchase {
  readonly moulding: string;
  readonly offer: string;
  readonly count: number;
  readonly cost: number;
}

export interface Totals {
  readonly sticks: number;
  readonly stockLength: number;
  readonly railLength: number;
  readonly offcutLength: number;
  readonly wasteLength: number;
  readonly yield: number;
  readonly cost: number;
  /** Different settings of each moulding. */
  readonly stopSettings: number;
  readonly cuts: number;
  /** Stops set over all runs. Absent in plans of older programs, as is `seconds`. */
  readonly stopsSet?: StopsSet | undefined;
  /** What the sawing takes, by the times of the batch. */
  readonly seconds?: number | undefined;
  /** `seconds` at the batch's rate; only where it has one. */
  readonly labour?: number | undefined;
  /** Absent in plans of older programs. */
  readonly handling?: HandlingFigures | undefined;
  /** Without merging; only where the batch asks for it. */
  readonly unmerged?: { readonly stopSettings: number; readonly cost: number } | undefined;
}

export interface Shortfall {
  readonly moulding: string;
  /** Frame copies not made, `frame id/copy`. */
  readonly frames: readonly string[];
  /**
   * Stock length, millimetres, that would complete them: of offered sticks where there are offers, else the shortest
   * single stick that does beside what the plan leaves. One run of all their rails where the moulding could not be planned.
   */
  readonly needs: number;
  /** What those sticks would cost at the offers' prices; null without offers, and where the moulding could not be planned. */
  readonly cost: number | null;
  /**
   * Frame copies, all of them among `frames`, that nothing can hold: they were skipped, and `needs` and `cost` are of
   * the others. Where there are no others, `needs` is the longest clear span they ask for.
   */
  readonly impossible?: readonly string[] | undefined;
}

/** A piece of the shop's rack as it was when it was planned on. */
export interface ShopPiece {
  readonly id: string;
  readonly moulding: string;
  readonly length: number;
  readonly ends: PieceEnds;
  readonly flaws: readonly (readonly [number, number])[];
  /** Money; null: its length counts. */
  readonly value: number | null;
}

export interface Plan {
  readonly schema: 'pairstop/plan@1';
  readonly batch: string;
  readonly units: Units;
  /** The unit of every length here. Absent in plans of older programs. */
  readonly lengths?: 'mm' | undefined;
  readonly status: 'complete' | 'short';
  readonly mouldings: readonly MouldingPlan[];
  readonly buy: readonly PlannedPurchase[];
  readonly totals: Totals;
  readonly shortfall: readonly Shortfall[];
  readonly notices: readonly Notice[];
  /** Only where the batch is planned from the shop's rack: the pieces it cuts, reserved for it. */
  readonly rack?: readonly ShopPiece[] | undefined;
  /** Only where several batches are planned as one: what each has of it, and what pooling saved. */
  readonly batches?: readonly PlannedBatch[] | undefined;
  readonly pooling?: PlanPooling | undefined;
}
