/**
 * Exact plane geometry of a ring of n rails whose ends are all cut at θ + ε instead of θ = 180°/n. Radians, and any one
 * unit of length throughout.
 *
 * Two ends pressed face to face turn the ring by 2(θ + ε). With n − 1 joints tight the rails have turned by
 * (n − 1)·2(θ + ε), and the two last faces stand at
 *
 *     n·2(θ + ε) − 360° = 2n·ε
 *
 * to each other, whatever the lengths of the rails: eight ends, 8ε. A face is F / cos(θ + ε) long. Where the last two
 * meet at one end of their faces, the other ends are apart by the chord
 *
 *     gap = 2 · F / cos(θ + ε) · sin(n·|ε|)
 *
 * which for small errors is the shop's F / cos θ · tan(2n·ε); that one is about 3/8·(2nε)² too large (1 % at 2nε = 9°)
 * and, when ε > 0, too small by the share ε·tan θ.
 */

const FULL = 2 * Math.PI;

/** A ring of mitred rails: their lengths long point to long point, in order around it. */
export interface MitredRing {
  readonly face: number;
  readonly lengths: readonly number[];
}

export function mitreOf(sides: number): number {
  return Math.PI / sides;
}

/** Length of a cut face, outside to sight edge. */
export function faceLength(face: number, sides: number, error = 0): number {
  return face / Math.cos(mitreOf(sides) + error);
}

/** Widest opening of the last joint, every other joint tight. For n·|ε| up to 90°. */
export function lastGap(face: number, sides: number, error: number): number {
  return 2 * faceLength(face, sides, error) * Math.sin(sides * Math.abs(error));
}

/** Opening of every joint where all are drawn together at once: the ring closes true and each shows 2ε. */
export function sharedGap(face: number, sides: number, error: number): number {
  return 2 * faceLength(face, sides, error) * Math.sin(Math.abs(error));
}

/**
 * How far the last two long points miss each other where each earlier joint is held with its long points together: the
 * length of the sum of the rails as vectors. Long rails turn a small error into a large miss, which joints that may
 * still slide along their faces take up.
 */
export function lastMiss({ lengths }: MitredRing, error: number): number {
  const turn = 2 * (mitreOf(lengths.length) + error);
  const sum = lengths.reduce(
    (at, length, k) => ({ x: at.x + length * Math.cos(k * turn), y: at.y + length * Math.sin(k * turn) }),
    { x: 0, y: 0 },
  );
  return Math.hypot(sum.x, sum.y);
}

const HALVINGS = 80;

/**
 * The largest |ε| of the sign given whose last joint opens no more than `gap`, at most half the mitre or half of what it
 * lacks to 90°. Past the mark (+1) opens more than short of it (−1), so +1 holds for either.
 */
export function errorFor(face: number, sides: number, gap: number, sign: 1 | -1 = 1): number {
  let [least, most] = [0, Math.min(mitreOf(sides), Math.PI / 2 - mitreOf(sides)) / 2];
  if (lastGap(face, sides, sign * most) <= gap) return most;
  for (let i = 0; i < HALVINGS; i++) {
    const middle = (least + most) / 2;
    if (lastGap(face, sides, sign * middle) <= gap) least = middle;
    else most = middle;
  }
  return least;
}

/**
 * How corners share one rail being longer than it should: from the lowest pair of corners, at the ends of that rail, up.
 * Largest difference for a largest corner error β: Σ c·y over the corners is greatest, with Σ c = 0 and |c| ≤ β, when
 * the lower half gets −β and the upper +β; the middle one of an odd number, shared with its mirror image, gets half.
 */
function cornerShares(sides: number): readonly number[] {
  const half = Math.floor(sides / 2);
  const signs = Array.from({ length: sides }, (_, i) => (i < half ? -1 : i >= sides - half ? 1 : 0));
  const shares = new Array<number>(sides).fill(0);
  for (let level = 0, at = 0; at < sides; level++) {
    const mirror = sides - 1 - level;
    const corners = level === mirror ? [level] : [level, mirror];
    const mean = corners.reduce((sum, _, i) => sum + signs[at + i]!, 0) / corners.length;
    for (const corner of corners) shares[corner] = mean;
    at += corners.length;
  }
  return shares;
}

/** The corner error β at which a joint of true cuts opens by `gap`: gap = 2·F/cos θ·sin(β/2). */
export function cornerFor(face: number, sides: number, gap: number): number {
  return 2 * Math.asin(Math.min(1, gap / (2 * faceLength(face, sides))));
}

/**
 * How much longer rail 0 may be than the one facing it (odd rings: than it should be) with no corner off by more than
 * `corner`, all cuts true. Closes the ring exactly; for a rectangle 2·H·sin β, the trapezoid's δ / 2H turned round.
 * `lengths` must read the same both ways around rail 0.
 */
export function differenceFor({ lengths }: MitredRing, corner: number): number {
  const sides = lengths.length;
  const shares = cornerShares(sides);
  let [direction, along] = [0, 0];
  for (let k = 1; k < sides; k++) {
    direction += FULL / sides - shares[k - 1]! * corner;
    along -= lengths[k]! * Math.cos(direction);
  }
  return along - lengths[0]!;
}
