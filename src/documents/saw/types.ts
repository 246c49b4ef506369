/** The document `pairstop/saw@1`. Lengths are millimetres, angles degrees off square. */

import type { Notice } from '../../notices.js';
import type { Units } from '../../terms.js';

/** How unlike two rails may be for the wanted gap. */
export interface PairTolerance {
  /** Sides that face each other; of a ring with an odd number of sides, or of a regular one, any rail and the others. */
  readonly rails: readonly string[];
  readonly length: number;
  readonly difference: number;
}

/** What a measured angle does to the last joint of a frame. */
export interface Measured {
  readonly angle: number;
  /** Measured less wanted, for each cut. */
  readonly error: number;
  /** 2n times the error. */
  readonly lastJoint: number;
  /** Widest opening of the last joint, all others tight. */
  readonly gap: number;
  /** Opening of each joint when all are drawn together at once. */
  readonly shared: number;
  /** How far the last long points miss each other when every joint before is already fixed, long points together. */
  readonly miss: number;
  readonly opens: 'sight' | 'outside' | 'nowhere';
  /** The gap is no more than the one wanted. */
  readonly holds: boolean;
}

export interface FrameCheck {
  readonly frame: string;
  readonly moulding: string;
  readonly sides: number;
  readonly mitre: number;
  /** Cut ends whose errors add up: two a rail. */
  readonly ends: number;
  readonly face: number;
  /** Length of a cut face, outside to sight edge. */
  readonly joint: number;
  /** Largest error of each cut, either way. */
  readonly angle: number;
  /** What the last joint is then open by. */
  readonly lastJoint: number;
  readonly pairs: readonly PairTolerance[];
  readonly measured: Measured | null;
}

export interface RingReading {
  readonly gap: number;
  /** Error of each cut that opens the ring by this much: past the mark, and short of it. */
  readonly past: number;
  readonly short: number;
}

/** A small ring from scrap that shows what the saw does. */
export interface TestRing {
  readonly sides: number;
  readonly mitre: number;
  readonly moulding: string;
  readonly face: number;
  readonly setting: number;
  /** The rails are so short that they are clamped. */
  readonly clamp: boolean;
  /** Length of one scrap that gives them all. */
  readonly scrap: number;
  /** The ring passes when its last joint opens no more than this. */
  readonly pass: number;
  readonly readings: readonly RingReading[];
}

export interface SawCheck {
  readonly schema: 'pairstop/saw@1';
  readonly batch: string;
  readonly units: Units;
  /** The wanted gap. */
  readonly gap: number;
  readonly frames: readonly FrameCheck[];
  /** Every measured angle holds for every frame it was measured for; null when none was measured. */
  readonly holds: boolean | null;
  readonly tests: readonly TestRing[];
  readonly notices: readonly Notice[];
}
