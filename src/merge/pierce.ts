/**
 * The fewest stop settings for rails that are each cut at one stop: points that pierce every range. A rail is cut at
 * the shortest point its range holds, which is the first at or above its own setting, so points in ascending order
 * divide the rails by their own settings: whatever lies between two neighbouring points goes up to the second. That
 * makes the choice a shortest path over points, solved here exactly by number of settings, then gauge sticks used,
 * then length of all rails. A point that is no gauge stick need not lie above the longest own setting that it serves.
 *
 * No fewer can serve, by the classic argument of the greedy algorithm: ranges that end before the next one begins need a point
 * each, and as many points as there are such ranges suffice (interval graphs are perfect; Golumbic, Algorithmic Graph
 * Theory and Perfect Graphs, 1980). The checker counts them that way.
 */
import type { Um } from '../terms.js';

export interface SideRange {
  readonly low: Um;
  readonly high: Um;
  /** Rails. */
  readonly weight: number;
}

/** A way to `points[at]`; the ways kept at one point agree in `settings` and `gauges`. */
interface Way {
  readonly settings: number;
  readonly gauges: number;
  /** Micrometres of rail. */
  readonly total: number;
  readonly at: number;
  readonly before: Way | null;
}

const START: Way = { settings: 0, gauges: 0, total: 0, at: -1, before: null };

const START_ONLY: readonly Way[] = [START];
/** Points tried before a point: some dozen marks of a scale lie within a play. Where there are more, the length may not be least. */
const BEFORE_MOST = 300;
/** Pairs of points tried in all, and the least that each point may try. */
const PAIRS_MOST = 600_000;
const BEFORE_LEAST = 2;

/** Spans by own setting: equal ones are cut alike, so the narrowest of them counts. */
function byLow(spans: readonly SideRange[]): readonly SideRange[] {
  const lows = new Map<Um, { low: Um; high: Um; weight: number }>();
  for (const { low, high, weight } of spans) {
    const known = lows.get(low);
    if (known === undefined) lows.set(low, { low, high, weight });
    else {
      known.high = Math.min(known.high, high);
      known.weight += weight;
    }
  }
  return [...lows.values()].sort((a, b) => a.low - b.low);
}

export function compareWays(
  a: Pick<Way, 'settings' | 'gauges' | 'total'>,
  b: Pick<Way, 'settings' | 'gauges' | 'total'>,
): number {
  return a.settings - b.settings || b.gauges - a.gauges || a.total - b.total;
}

/** The best ways to one point that agree in settings and gauge sticks. */
class Best {
  readonly ways: Way[] = [];
  /** Some ways were left out that are worse only in length. */
  cut = false;
  readonly #most: number;

  constructor(most: number) {
    this.#most = most;
  }

  add(settings: number, gauges: number, total: number, at: number, before: Way | null): void {
    const { ways } = this;
    const [first] = ways;
    const better = first === undefined ? -1 : settings - first.settings || first.gauges - gauges;
    if (better > 0) return;
    if (better < 0) {
      ways.length = 0;
      this.cut = false;
    }
    if (ways.length === this.#most) {
      this.cut = true;
      if (total >= ways.at(-1)!.total) return;
      ways.pop();
    }
    let place = ways.length;
    while (place > 0 && ways[place - 1]!.total > total) place -= 1;
    ways.splice(place, 0, { settings, gauges, total, at, before });
  }
}

function pointsOf(points: readonly Um[], way: Way): readonly Um[] {
  const found: Um[] = [];
  for (let at: Way | null = way; at !== null && at.at >= 0; at = at.before) found.push(points[at.at]!);
  return found.reverse();
}

export interface Piercing {
  /** Ascending. */
  readonly points: readonly Um[];
  readonly gauges: number;
  readonly total: number;
}

export interface Piercings {
  /** At least one. */
  readonly found: readonly Piercing[];
  /** Every set of as few points with as many gauge sticks is listed, except those with a point longer than it need be. */
  readonly all: boolean;
}

/** Up to `most` sets of points, best first; all have the fewest points and among those the most gauge sticks. */
export function piercings(spans: readonly SideRange[], gauges: readonly Um[], most: number): Piercings {
  const rails = byLow(spans);
  if (rails.length === 0) return { found: [{ points: [], gauges: 0, total: 0 }], all: true };
  const owned = new Set(gauges);
  const points = [...new Set([...rails.map(({ low }) => low), ...owned])].sort((a, b) => a - b);
  /** Rails whose own setting is at or below each point. */
  const below: number[] = [];
  for (const point of points) {
    let count = below.at(-1) ?? 0;
    while (count < rails.length && rails[count]!.low <= point) count += 1;
    below.push(count);
  }
  /** Rails of all own settings before each. */
  const weights = [0];
  for (const { weight } of rails) weights.push(weights.at(-1)! + weight);
  const byHigh = [...rails.keys()].sort((a, b) => rails[a]!.high - rails[b]!.high);
  const patience = Math.max(BEFORE_LEAST, Math.min(BEFORE_MOST, PAIRS_MOST / points.length));
  const ways: (readonly Way[])[] = [];
  let all = true;
  /** Rails that do not reach up to the point at hand end with this one; the point before it is at or above its setting. */
  let [ended, past] = [0, -1];
  let first = -1;
  points.forEach((point, j) => {
    for (; ended < byHigh.length && rails[byHigh[ended]!]!.high < point; ended++) {
      past = Math.max(past, byHigh[ended]!);
    }
    if (past >= 0) first = Math.max(first, 0);
    while (first >= 0 && first < j && below[first]! <= past) first += 1;
    const found = new Best(most);
    const gauge = owned.has(point) ? 1 : 0;
    let [fewest, looked] = [Number.POSITIVE_INFINITY, 0];
    // Settings needed never fall from point to point, so the first points that can be before this one are the best.
    for (let i = first; i < j && (i < 0 ? 0 : below[i]!) < below[j]!; i++) {
      const before = i < 0 ? START_ONLY : ways[i]!;
      if (before.length === 0) continue;
      if (before[0]!.settings > fewest) break;
      fewest = before[0]!.settings;
      looked += 1;
      if (looked > patience) {
        all = false;
        break;
      }
      const weight = weights[below[j]!]! - weights[i < 0 ? 0 : below[i]!]!;
      for (const way of before) {
        found.add(way.settings + 1, way.gauges + gauge, way.total + weight * point, j, way);
      }
    }
    all &&= !found.cut;
    ways.push(found.ways);
  });
  const kept = new Best(most);
  ways.forEach((some, j) => {
    if (below[j] !== rails.length) return;
    for (const { settings, gauges: used, total, at, before } of some)
      kept.add(settings, used, total, at, before);
  });
  return {
    found: kept.ways.map((way) => ({
      points: pointsOf(points, way),
      gauges: way.gauges,
      total: way.total,
    })),
    all: all && !kept.cut,
  };
}

/** The point a rail of this own setting is cut at. */
export function pointFor(points: readonly Um[], low: Um): Um {
  let [from, to] = [0, points.length];
  while (from < to) {
    const middle = (from + to) >> 1;
    if (points[middle]! < low) from = middle + 1;
    else to = middle;
  }
  const point = points[from];
  if (point === undefined) throw new RangeError(`no setting for a rail of ${low} µm`);
  return point;
}
