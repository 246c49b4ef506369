/**
 * The glossary. Every domain type of the planner, in the words of the trade; one word means one thing everywhere.
 *
 * frame        a closed ring of mitred rails; an order line asks for a quantity of equal frames
 * moulding     the profile a frame is made of, sold in sticks
 * rail         one side of a frame; its length runs long point to long point, along the outside edge
 * stop         the block clamped to the fence; its setting is the distance from blade to stop
 * gauge stick  a kept piece that sets the stop to one length again without measuring
 * rack         sticks and offcuts the shop owns; an offer is a stick length that can be bought
 * piece        one physical stick: one copy of a rack entry or of an offer
 * offcut       a remainder worth keeping; a shorter one is waste
 * begun        a stick from its first cut until its last rail is off
 * run          a group of sticks cut to the end before the next group is begun
 * visit        one stick taken to the saw for one setting
 * tag          the short mark written on a rail so that it finds its frame
 * pool         orders kept for the night and planned as one
 *
 * Units: `Um` is a whole number of micrometres, `Cents` a whole number of cents, angles are degrees.
 * `Exact` (a rational number of micrometres) exists only between reading and the rails: sums of exact sizes are
 * rounded once, so rounding never pushes a rail over to the next stop step.
 */

import type { Ms } from './lengths/durations.js';
import type { Exact } from './lengths/exact.js';
import type { Um, Units } from './lengths/units.js';

export type { Ms } from './lengths/durations.js';
export type { Um, Units } from './lengths/units.js';

export type Cents = number;
export type MeasuredBy = 'glass' | 'rabbet' | 'sight' | 'outside';
export type Match = 'stop' | 'pair' | 'frame';
/** The state of an end of a rack piece: as it came, sawn clean and square, or mitred. A sawn or mitred end needs no end trim. */
export type PieceEnd = 'raw' | 'sawn' | 'mitred';
export type PieceEnds = readonly [left: PieceEnd, right: PieceEnd];
export const RAW_ENDS: PieceEnds = ['raw', 'raw'];
export type Urgency = 'now' | 'tonight';
export type SettingOrder = 'longest' | 'fewest';

export interface Saw {
  /** What the blade removes, square to the blade. */
  readonly kerf: Exact;
  /** Extra stock lost at each joint of profiled rails, getting the saw back onto the corner. */
  readonly recut: Um;
  /** The scale the stop is set to: settings are whole multiples of this (1/32 in is 793.75 µm, hence exact). */
  readonly stopStep: Exact;
  /** Rails shorter than this are clamped or jigged, never held. */
  readonly clampBelow: Um;
  /** Most sticks that may lie begun at once; null: no limit. */
  readonly bench: number | null;
  /** In which order a run's settings come: longest first, or so that the fewest sticks lie begun at once. */
  readonly order: SettingOrder;
}

/** How long each step at the saw takes. */
export interface Labour {
  readonly setStop: Ms;
  /** A stop set with a gauge stick. */
  readonly setGauge: Ms;
  /** A visit: taking a stick to the saw for one setting. */
  readonly takeStick: Ms;
  readonly cut: Ms;
  /** Swinging the saw to the other mitre: two swings for each rail of profiled stock, none for reversible stock. */
  readonly swing: Ms;
  readonly label: Ms;
  /** The first mitre of a stick. */
  readonly firstMitre: Ms;
  /** Cents an hour; null: time is not counted as money. */
  readonly rate: Cents | null;
}

export interface Moulding {
  readonly id: string;
  readonly face: Exact;
  readonly rabbet: Exact;
  readonly reversible: boolean;
  /** Lost at each end of every stick. */
  readonly endTrim: Um;
  /** Shortest remainder that goes back on the rack. */
  readonly keepOver: Um;
}

export interface Rectangle {
  readonly kind: 'rectangle';
  readonly width: Exact;
  readonly height: Exact;
}

export interface Regular {
  readonly kind: 'regular';
  readonly sides: number;
  readonly side: Exact;
}

export interface FrameLine {
  readonly id: string;
  readonly moulding: string;
  readonly quantity: number;
  readonly measuredBy: MeasuredBy;
  readonly shape: Rectangle | Regular;
  readonly play: Exact;
  /** Largest play the customer's glass still sits well in; only when given may settings be merged. */
  readonly playMax: Exact | null;
  readonly match: Match;
  /** Where stock runs out, frames of priority 1 are completed first; null: after all that have one. */
  readonly priority: number | null;
}

export interface RackEntry {
  readonly id: string;
  readonly moulding: string;
  readonly length: Um;
  readonly quantity: number;
  /** Spans no rail may touch, sorted, disjoint, within the stick: [from, to] from the left end. */
  readonly flaws: readonly (readonly [Um, Um])[];
  readonly ends: PieceEnds;
  /** What using one such piece is worth, in cents; null: its length counts. */
  readonly value: Cents | null;
}

export interface PriceBreak {
  readonly from: number;
  readonly price: Cents;
}

export interface Offer {
  readonly id: string;
  readonly moulding: string;
  readonly length: Um;
  /** Cents a piece; where the batch gives none, the length in batch units as money. */
  readonly price: Cents;
  /** The batch gives it a price or price breaks; else length stands in for money. */
  readonly priced: boolean;
  /** null: as many as wanted. */
  readonly available: number | null;
  readonly pack: number;
  /** Price a piece for the whole purchase from that many pieces on; sorted by `from`. */
  readonly breaks: readonly PriceBreak[];
  /** One of `Batch.suppliers`; null: not said. */
  readonly supplier: string | null;
}

export interface Supplier {
  readonly id: string;
  /** What an order from this supplier costs at least, in cents. */
  readonly minimumOrder: Cents;
}

export interface Gauge {
  readonly id: string;
  readonly length: Um;
}

export interface Options {
  /** Seconds of solving for the whole batch. */
  readonly timeLimit: number;
  readonly mergeStops: boolean;
  /** Frames that cannot be cut from anything are left out, and the rest is planned. */
  readonly skipImpossible: boolean;
  readonly seed: number;
  /** Through the queue only: `now` never waits behind `tonight`. */
  readonly urgency: Urgency;
  /** Through the queue only: milliseconds since 1970 before which it is not started; null: at once. */
  readonly notBefore: number | null;
  /** Through the queue only: it waits until the pool closes, and is planned with all that wait there. */
  readonly pool: boolean;
  /** For comparisons only: sticks longer than this cannot be carried; null: no limit. */
  readonly maxLength: Um | null;
  /** For comparisons only: bought sticks may be short of their nominal length by this much; null: they are not. */
  readonly shortBy: Um | null;
  /** For comparisons only: share of bought sticks that are bad; null: none. */
  readonly spare: number | null;
  /** For comparisons only: the multiples of the order that are compared too. */
  readonly grow: readonly number[];
}

/** Where something of a pooled batch is planned apart from the others, and why. */
export interface PlannedApart {
  readonly why: string;
  /** The moulding's id here, and in the batch it comes from; null: all of the batch. */
  readonly moulding: string | null;
  readonly from: string | null;
}

/** A batch that is planned as part of this one, in the order of arrival: the batches of a night are pooled in one. */
export interface PooledBatch {
  readonly id: string;
  /** As written: a date, or date and time. */
  readonly due: string | null;
  /** Its order lines: their ids here, and in the batch they come from. */
  readonly lines: readonly { readonly frame: string; readonly line: string }[];
  readonly apart: readonly PlannedApart[];
}

/** A batch that has been read and checked: every reference resolves, every number is in range. */
export interface Batch {
  readonly id: string;
  readonly units: Units;
  readonly saw: Saw;
  readonly mouldings: readonly Moulding[];
  readonly frames: readonly FrameLine[];
  readonly sticks: readonly RackEntry[];
  /** Through the queue only: mouldings without sticks of their own are planned from what is free on the shop's rack. */
  readonly rack: 'shop' | null;
  readonly offers: readonly Offer[];
  readonly gauges: readonly Gauge[];
  readonly suppliers: readonly Supplier[];
  readonly labour: Labour;
  /** When it is needed, as written: a date, or date and time; null: not said. */
  readonly due: string | null;
  /** Empty for any but a pooled batch. */
  readonly batches: readonly PooledBatch[];
  readonly options: Options;
}

/** One side of an order line: `count` equal rails, all cut at `setting`. */
export interface RailType {
  /** Index of the order line in `Batch.frames`. */
  readonly line: number;
  /** The sides of the frame that are this rail, in the order of the ring: ['top','bottom'] or ['side1',…]. */
  readonly sides: readonly string[];
  /** Long point to long point; a whole multiple of the stop step, rounded up to whole micrometres. */
  readonly setting: Um;
  /** Mitre angle at both ends, degrees. */
  readonly angle: number;
}
