/**
 * A sum of whole cents in proportion to weights, nobody above his limit: everyone pays the same for each unit of weight,
 * or his limit where that is less. (The rule of constrained equal awards with weights; W. Thomson, Mathematical Social
 * Sciences 45, 2003.) Exact: whole numbers only.
 */
import type { Cents } from '../terms.js';

export interface CappedShares {
  readonly shares: readonly Cents[];
  /** The limits together are less than the sum, and what is over is shared by weight. */
  readonly over: boolean;
}

/** Largest remainders first; `total` in proportion to `weights`, which are whole and not all 0. */
function proportional(total: Cents, weights: readonly number[]): readonly Cents[] {
  const sum = weights.reduce((all, one) => all + BigInt(one), 0n);
  const parts = weights.map((weight, i) => {
    const exact = BigInt(total) * BigInt(weight);
    return { i, share: Number(exact / sum), rest: exact % sum };
  });
  let left = total - parts.reduce((all, { share }) => all + share, 0);
  const shares = parts.map(({ share }) => share);
  const byRest = [...parts].sort((a, b) => (a.rest === b.rest ? a.i - b.i : a.rest > b.rest ? -1 : 1));
  for (const { i } of byRest) {
    if (left === 0) break;
    shares[i]! += 1;
    left -= 1;
  }
  return shares;
}

/** `limits`: null for none. Weights are whole numbers; where all are 0 they count alike. */
export function cappedShares(
  total: Cents,
  weights: readonly number[],
  limits: readonly (Cents | null)[],
): CappedShares {
  const all = weights.every((weight) => weight === 0) ? weights.map(() => 1) : weights;
  const shares = all.map(() => 0);
  let free = all.map((_, i) => i);
  let left = total;
  for (;;) {
    const sum = free.reduce((whole, i) => whole + BigInt(all[i]!), 0n);
    const full = free.filter((i) => {
      const limit = limits[i]!;
      return limit !== null && BigInt(limit) * sum <= BigInt(left) * BigInt(all[i]!);
    });
    if (full.length === 0) break;
    for (const i of full) {
      shares[i] = limits[i]!;
      left -= limits[i]!;
    }
    free = free.filter((i) => !full.includes(i));
  }
  const some = free.length > 0 && free.some((i) => all[i]! > 0);
  if (left > 0 && some) {
    const parts = proportional(
      left,
      free.map((i) => all[i]!),
    );
    free.forEach((i, k) => {
      shares[i] = parts[k]!;
    });
    left = 0;
  }
  if (left > 0) {
    const parts = proportional(left, all);
    return { shares: shares.map((share, i) => share + parts[i]!), over: true };
  }
  return { shares, over: false };
}
