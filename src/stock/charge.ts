/**
 * Time at a rate, as the engine's set-up charges: a stick taken up for each setting on it, and its first mitre. What
 * is the same in every plan (cuts of profiled stock, swings, labels) is left out, and so is what depends on the runs
 * (stops set); `src/plan/priced.ts` adds both.
 */
import type { Labour } from '../terms.js';
import type { Charge, CutItem, Spacing } from './task.js';

export const MS_PER_HOUR = 3_600_000;
/** Finer units would only make the engine's numbers larger: a visit's charge already loses almost nothing by rounding down. */
const FINEST = 10_000;

function gcd(a: number, b: number): number {
  let [x, y] = [a, b];
  while (y !== 0) [x, y] = [y, x % y];
  return x;
}

/** Items cut at one setting and angle: a stick that holds several of them is taken up once for them all. */
function sharing(items: readonly CutItem[]): readonly number[] {
  const keyOf = ({ setting, second, kind }: CutItem): string => `${setting}/${second}/${kind}`;
  const counts = new Map<string, number>();
  for (const item of items) counts.set(keyOf(item), (counts.get(keyOf(item)) ?? 0) + 1);
  return items.map((item) => counts.get(keyOf(item))!);
}

/** Null without a rate. Where items share a visit, each is charged a part of it, so no pattern is charged too much. */
export function chargeOf(labour: Labour, { reversible }: Spacing, items: readonly CutItem[]): Charge | null {
  const { rate, takeStick, firstMitre, cut } = labour;
  if (rate === null || rate === 0) return null;
  // On reversible stock each rail takes one cut, and each stick one more.
  const piece = (firstMitre + (reversible ? cut : 0)) * rate;
  const visit = takeStick * rate;
  const exact = MS_PER_HOUR / gcd(gcd(MS_PER_HOUR, piece), visit);
  const scale = Math.min(exact, FINEST);
  const charge = (time: number): number => Math.floor((time * scale) / MS_PER_HOUR);
  return {
    scale,
    setups: { item: sharing(items).map((count) => charge(Math.floor(visit / count))), piece: charge(piece) },
  };
}
