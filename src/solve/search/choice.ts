import type { Column } from '../columns/columns.js';
import type { PairPricing } from '../columns/pair-pricing.js';
import type { Instance } from '../instance/instance.js';

/** Shares of columns and of pairs that count as nothing. */
export const SMALL = 1e-6;
/** Weight of a pair's length, in sticks, beside how undecided it is; measured, see DEVELOPERS.md. */
const HEAVY = 1.2;
/** Pairs of at least such a share are decided along with another, so many at a time. */
const NEAR = 0.8;
const MOST_NEAR = 4;

/**
 * The pair whose share of common sticks is nearest to a half, heavy ones first, and with it those that share nearly
 * all; with `single` it comes alone. None when every pair is decided.
 */
export function choosePairs(
  instance: Instance,
  columns: readonly Column[],
  x: Float64Array,
  joined: PairPricing,
  single: boolean,
): (readonly [number, number])[] {
  const { n, demand } = instance;
  const share = new Map<number, number>();
  columns.forEach(({ items }, j) => {
    if (x[j]! <= SMALL) return;
    for (let a = 0; a < items.length; a++) {
      if (demand[items[a]!] !== 1) continue;
      for (let b = a + 1; b < items.length; b++) {
        if (demand[items[b]!] !== 1) continue;
        const key = items[a]! * n + items[b]!;
        share.set(key, (share.get(key) ?? 0) + x[j]!);
      }
    }
  });
  const { weight, largest } = instance;
  let best: number | null = null;
  let highest = -Infinity;
  for (const [key, value] of share) {
    if (value <= SMALL || value >= 1 - SMALL) continue;
    const heavy = (weight[Math.floor(key / n)]! + weight[key % n]!) / largest;
    const score = 0.5 - Math.abs(value - 0.5) + HEAVY * heavy;
    if (score > highest + SMALL || (score > highest - SMALL && best !== null && key < best)) {
      [best, highest] = [key, score];
    }
  }
  if (best === null) return [];
  const near: number[] = [];
  for (const [key, value] of share) {
    if (value >= NEAR && value < 1 - SMALL && key !== best) near.push(key);
  }
  near.sort((a, b) => share.get(b)! - share.get(a)! || a - b);
  const taken = new Set<number>();
  const pairs: (readonly [number, number])[] = [];
  for (const key of [best, ...near]) {
    // Each joins other rails than the rest: what one decides, no other can contradict.
    const ends = [Math.floor(key / n), key % n] as const;
    const leaders = ends.map((i) => joined.leaderOf(i));
    if (pairs.length > (single ? 0 : MOST_NEAR) || leaders.some((i) => taken.has(i))) continue;
    for (const i of leaders) taken.add(i);
    pairs.push(ends);
  }
  return pairs;
}
