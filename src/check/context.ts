/** What every part of a check needs at hand. */
import type { Plan } from '../documents/plan/types.js';
import type { Batch, Moulding } from '../terms.js';
import type { Findings, Verified } from './report.js';
import type { Roster } from './roster.js';
import type { Settings } from './settings.js';
import { type MitreGeometry, mitre } from './wood/geometry.js';

export interface CheckBase {
  readonly batch: Batch;
  readonly roster: Roster;
  readonly settings: Settings;
  readonly findings: Findings;
  readonly verified: Verified;
}

export interface Context extends CheckBase {
  readonly plan: Plan;
}

export function nothingVerified(): Verified {
  return {
    mouldings: 0,
    frames: 0,
    sticks: 0,
    rails: 0,
    joints: 0,
    remainders: 0,
    stops: 0,
    pairs: 0,
    purchases: 0,
  };
}

/** Sums of what was met on the sticks, micrometres; those of nested rails are irrational, hence between two sums. */
export interface Sums {
  sticks: number;
  stock: number;
  railLeast: number;
  railMost: number;
  offcut: number;
  stopSettings: number;
  cuts: number;
}

export const NOTHING: Readonly<Sums> = {
  sticks: 0,
  stock: 0,
  railLeast: 0,
  railMost: 0,
  offcut: 0,
  stopSettings: 0,
  cuts: 0,
};

/** One moulding of a document, and where it stands there. */
export interface InMoulding extends CheckBase {
  readonly moulding: Moulding;
  readonly path: string;
  readonly sums: Sums;
  /** The mitre of a ring of n sides in this moulding. */
  readonly mitreOf: (sides: number) => MitreGeometry;
}

export function mitresFor(batch: Batch, moulding: Moulding): (sides: number) => MitreGeometry {
  const known = new Map<number, MitreGeometry>();
  return (sides) => {
    const found = known.get(sides);
    if (found !== undefined) return found;
    const made = mitre(sides, batch.saw.kerf, moulding.face);
    known.set(sides, made);
    return made;
  };
}
