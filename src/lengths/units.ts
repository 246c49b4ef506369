/** The units a length may be written in, as exact whole micrometres. */

/** A length inside: a whole number of micrometres. */
export type Um = number;
/** What a bare number in a batch means. */
export type Units = 'in' | 'mm';

/** International inch, 25.4 mm exactly (NIST SP 811, appendix B.6). */
export const UM_PER_INCH = 25_400n;
/** International foot, 12 in. */
export const UM_PER_FOOT = 304_800n;
export const UM_PER_MM = 1_000n;
export const UM_PER_CM = 10_000n;
export const UM_PER_M = 1_000_000n;

/** Millimetres, as documents have them, of whole micrometres. Exact for any length a batch may hold. */
export function mmFromUm(um: number): number {
  return um / 1000;
}

/** Nearest whole micrometre to a number of millimetres, undoing `mmFromUm`. */
export function umFromMm(mm: number): number {
  return Math.round(mm * 1000);
}
