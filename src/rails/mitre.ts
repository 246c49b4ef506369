/**
 * The mitre of a regular ring of n sides: θ = 180°/n off square. tan θ and cos θ are rational only for n = 4 (tan) and
 * n = 3 (cos) among those used here (Niven's theorem), so those two are exact; everything else is irrational, never
 * lands on a whole micrometre, and a guard far above a double's error makes its rounding safe.
 */
import { type Exact, needUm, supplyUm, times, toNumber } from '../lengths/exact.js';
import type { Um } from '../terms.js';

/** Micrometres. Doubles here err by less than 1e-7 on lengths up to 100 m. */
const GUARD = 1e-6;

/** Sides of a ring that decide its mitre; a rectangle has 4. */
export type RingSides = number;

/** Degrees off square. */
export function mitreAngle(sides: RingSides): number {
  return 180 / sides;
}

export function mitreTan(sides: RingSides): number {
  return sides === 4 ? 1 : Math.tan(Math.PI / sides);
}

/** Smallest whole m with m² ≥ square, for square ≥ 0. */
function ceilSqrt(square: bigint): bigint {
  let m = BigInt(Math.floor(Math.sqrt(Number(square))));
  while (m * m >= square && m > 0n) m -= 1n;
  while (m * m < square) m += 1n;
  return m;
}

/** k' = kerf / cos θ: what the blade takes along the stick, rounded up. */
export function bladeUm(kerf: Exact, sides: RingSides): Um {
  if (sides === 3) return needUm(times(kerf, 2n));
  if (sides === 4) {
    // ceil(√2·num/den) is the least m with m²·den² ≥ 2·num², that is m² ≥ ceil(2·num²/den²).
    const den2 = kerf.den * kerf.den;
    return Number(ceilSqrt((2n * kerf.num * kerf.num + den2 - 1n) / den2));
  }
  if (kerf.num === 0n) return 0;
  return Math.ceil(toNumber(kerf) / Math.cos(Math.PI / sides) + GUARD);
}

/** F·tan θ, how far the cut runs along the stick while it crosses the face: rounded down and up. */
export function reachUm(face: Exact, sides: RingSides): { readonly down: Um; readonly up: Um } {
  if (sides === 4) return { down: supplyUm(face), up: needUm(face) };
  const reach = toNumber(face) * mitreTan(sides);
  return { down: Math.max(0, Math.floor(reach - GUARD)), up: Math.ceil(reach + GUARD) };
}

/** size + across·tan θ in whole micrometres, rounded up. `across` may be negative. */
export function needAcross(size: Exact, across: Exact, sides: RingSides): Um {
  if (across.num === 0n) return needUm(size);
  if (sides === 4)
    return needUm({ num: size.num * across.den + across.num * size.den, den: size.den * across.den });
  return Math.ceil(toNumber(size) + toNumber(across) * mitreTan(sides) + GUARD);
}
