/**
 * Wood and blade at the joint of two neighbours. A rail is a trapezoid across the full face of its stick: its long
 * edge, at y = 0 (flipped: y = F), runs from `start` to `end`, and both cuts lean inward by F·tan θ across the face.
 * A cut takes a strip beside the wood, k wide square to the blade, hence k / cos θ along the stick.
 *
 * Along the stick, the distance between two facing cuts is linear in y, so it is least at an edge of the stick:
 * `gap` between the long points when both long edges lie on one side, gap + F·min(tan θ₁, tan θ₂) otherwise. Wood is
 * disjoint when that clearance is not negative; each strip misses the other rail when it is at least that strip's
 * width. All in micrometres, as doubles: their error on lengths up to 100 m is far below `GUARD`.
 */
import { type Exact, toNumber } from '../../lengths/exact.js';
import type { Um } from '../../terms.js';

/** Micrometres within which an irrational length counts as reached. */
export const GUARD = 1e-6;

export interface MitreGeometry {
  readonly sides: number;
  /** Degrees off square. */
  readonly angle: number;
  /** Width of the blade's strip along the stick, k / cos θ. */
  readonly blade: number;
  /** How far a cut leans across the face, F·tan θ. */
  readonly lean: number;
}

export function mitre(sides: number, kerf: Exact, face: Exact): MitreGeometry {
  const theta = Math.PI / sides;
  const tan = sides === 4 ? 1 : Math.tan(theta);
  return {
    sides,
    angle: 180 / sides,
    blade: toNumber(kerf) / Math.cos(theta),
    lean: toNumber(face) * tan,
  };
}

export interface Wood {
  readonly start: Um;
  readonly end: Um;
  readonly flipped: boolean;
  readonly mitre: MitreGeometry;
}

/** Least distance along the stick between the facing cuts of two neighbours; negative where wood overlaps. */
export function clearance(left: Wood, right: Wood): number {
  const gap = right.start - left.end;
  return left.flipped === right.flipped ? gap : gap + Math.min(left.mitre.lean, right.mitre.lean);
}

/** Facing cuts are parallel: one pass of the blade can make both. */
export function parallel(left: Wood, right: Wood): boolean {
  return left.flipped !== right.flipped && left.mitre.sides === right.mitre.sides;
}

export type Joint = 'sound' | 'wood' | 'kerf' | 'recut' | 'nest';

/** The first rule that two neighbours on a stick break, `left` having the smaller start. */
export function jointOf(left: Wood, right: Wood, recut: Um): Joint {
  const clear = clearance(left, right) + GUARD;
  const blade = Math.max(left.mitre.blade, right.mitre.blade);
  if (clear < 0) return 'wood';
  if (clear < blade) return 'kerf';
  if (parallel(left, right)) return 'sound';
  const gap = right.start - left.end + GUARD;
  if (gap < blade + recut) return left.flipped === right.flipped ? 'recut' : 'nest';
  return 'sound';
}

/** A plan has its rails on whole micrometres, so the strip's width and the lean are both rounded. */
const ROUNDING = 2;

/** One cut ends `left` and begins `right`: the blade's strip fills what is between them. */
export function sharesCut(left: Wood, right: Wood): boolean {
  return parallel(left, right) && clearance(left, right) <= left.mitre.blade + ROUNDING;
}
