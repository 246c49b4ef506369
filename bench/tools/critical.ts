/**
 * Instances at the edge between two numbers of sticks: rails drawn freely, then lengthened unit by unit until the next
 * millimetre costs a stick. There the linear programme is often still whole where no plan is: a stick more than the rounded-up
 * bound, which instances drawn freely hardly ever need (of 60 `nearlyFull` none).
 */
import type { Problem } from '../../src/solve/problem.js';
import { cuttingStock } from './problems.js';
import { seeded } from './random.js';

export interface Critical {
  readonly rails: number;
  /** Longest rail; the shortest is a unit. */
  readonly longest: number;
  readonly stick: number;
  /** Units by which rails are lengthened in all, each time one drawn at random by one. */
  readonly steps: number;
}

/** `name` is the seed: with the same, more steps go on from where fewer end. */
export function lengthened(name: string, { rails: n, longest, stick, steps }: Critical): Problem {
  const random = seeded(name);
  const rails = Array.from({ length: n }, () => random.int(1, longest));
  if (n * longest - rails.reduce((sum, rail) => sum + rail, 0) < steps) {
    throw new RangeError(`${name}: ${steps} steps make every rail longer than ${longest}`);
  }
  for (let step = 0; step < steps; ) {
    const k = random.int(0, n - 1);
    if (rails[k]! >= longest) continue;
    rails[k]!++;
    step++;
  }
  const demand = new Map<number, number>();
  for (const rail of rails) demand.set(rail, (demand.get(rail) ?? 0) + 1);
  return cuttingStock(stick, [...demand.keys()], [...demand.values()]);
}

/**
 * The fewest steps of 1 to `most` after which `costs` answers more than after none, by halving: longer rails never need fewer
 * sticks. Null where none do.
 */
export function edgeOf(most: number, costs: (steps: number) => number): number | null {
  const least = costs(0);
  if (costs(most) === least) return null;
  let [low, high] = [0, most];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (costs(middle) === least) low = middle;
    else high = middle;
  }
  return high;
}

/**
 * Draws that need a stick more from so many steps on, where the fractional optimum does not pass the sticks before yet; found
 * by `edgeOf` with the engine. Of `d 200 800 6` it is not known whether 175 steps need one: it is open after 60 s.
 */
const EDGES: readonly (readonly [
  draw: string,
  rails: number,
  longest: number,
  seed: number,
  steps: number,
])[] = [
  ['e', 140, 800, 3, 205],
  ['e', 140, 800, 14, 90],
  ['b', 160, 800, 0, 929],
  ['b', 160, 800, 4, 519],
  ['b', 160, 800, 5, 931],
  ['b', 160, 800, 7, 928],
  ['b', 160, 800, 10, 614],
  ['a', 180, 830, 2, 328],
  ['a', 180, 830, 4, 97],
  ['a', 180, 830, 6, 207],
  ['b', 180, 800, 13, 353],
  ['b', 180, 800, 14, 549],
  ['d', 180, 790, 6, 398],
  ['b', 200, 800, 3, 519],
  ['b', 200, 800, 6, 785],
  ['b', 200, 800, 12, 7],
  ['d', 200, 800, 2, 245],
  ['d', 200, 800, 5, 226],
  ['d', 200, 800, 6, 175],
  ['d', 200, 800, 11, 328],
  ['d', 200, 800, 19, 114],
  ['e', 200, 780, 5, 277],
  ['e', 200, 780, 7, 85],
];

/** At the edge, and by turns one step before it, where a stick less does; null beyond the last. */
export function critical(k: number): Problem | null {
  const edge = EDGES[k >> 1];
  if (!edge) return null;
  const [draw, rails, longest, seed, steps] = edge;
  const shape = { rails, longest, stick: 1000, steps: steps - (k % 2) };
  return lengthened(`${draw} ${rails} ${longest} ${seed}`, shape);
}
