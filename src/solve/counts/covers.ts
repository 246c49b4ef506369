import type { Duals } from '../bounds/bound.js';
import type { Instance } from '../instance/instance.js';

/**
 * Σ over groups of worth · pieces ≥ need holds for every plan's numbers of pieces: at any values of the items, what the
 * pieces can be worth at most has to reach what is asked for (a cut in the sense of Benders 1962). Whole numbers.
 */
export interface PieceCover {
  readonly worth: Float64Array;
  readonly need: number;
}

/** Bits of a need: sums over groups stay exact doubles. */
const BITS = 46;

/** The cover that duals give, each group's greatest worth being known; not with set-ups. Null where it says nothing. */
export function coverOf(
  { demand, n }: Instance,
  { item, worth }: Pick<Duals, 'item' | 'worth'>,
): PieceCover | null {
  if (!worth.every((v) => v <= Number.MAX_SAFE_INTEGER)) return null;
  let need = 0n;
  for (let i = 0; i < n; i++) need += BigInt(item[i]!) * BigInt(demand[i]!);
  if (need <= 0n) return null;
  const shift = BigInt(Math.max(0, need.toString(2).length - BITS));
  return {
    need: Number(need >> shift),
    worth: Float64Array.from(worth, (v) => {
      const whole = BigInt(Math.max(0, Math.ceil(v)));
      return Number(shift === 0n ? whole : (whole >> shift) + 1n);
    }),
  };
}

/** Whether so many pieces of each group (Infinity: any number) are too few. */
export function short({ worth, need }: PieceCover, pieces: ArrayLike<number>): boolean {
  let sum = 0;
  for (let s = 0; s < worth.length; s++) if (pieces[s]! > 0 && worth[s]! > 0) sum += worth[s]! * pieces[s]!;
  return sum < need;
}
