/**
 * The fewest stop settings for rails that are each cut at one stop: points that pierce every range. A rail is cut at
 * the shortest point its range holds, which is the first at or above its own setting, so points in ascending order
 * divide the rails by their own settings: whatever lies between two neighbouring points goes up to the second. That
 * makes the choice a shortest path over points, solved here exactly by number of settings, then gauge sticks used,
 * then length of all rails. A point that is no gauge stick need not lie above the longest own setting that it serves.
 *
 * That no fewer serve is the classic argument of the greedy: ranges that end before the next one begins need a point
 * each, and as many points as there are such ranges suffice (interval graphs are perfect; Golumbic, Algorithmic Graph
 * Theory and Perfect Graphs, 1980). The checker counts them that way.
 */
import type { Um } from '../terms.js';

export interface Span {
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

/** Spans by own setting: equal ones are cut alike, so the narrowest of them counts. */
function byLow(spans: readonly Span[]): readonly Span[] {
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

interface Best {
  readonly ways: readonly Way[];
  /** Some were left out that are as good but for their length. */
  readonly cut: boolean;
}

/** The best `most` ways that use as few settings and as many gauge sticks as the very best. */
function best(ways: Way[], most: number): Best {
  ways.sort(compareWays);
  const [first] = ways;
  const good = ways.filter((way) => way.settings === first?.settings && way.gauges === first.gauges);
  return { ways: good.slice(0, most), cut: good.length > most };
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
  /** Every set of as few points with as many gauge sticks is there, but for points longer than they need be. */
  readonly all: boolean;
}

/** Up to `most` sets of points, best first; all have the fewest points and among those the most gauge sticks. */
export function piercings(spans: readonly Span[], gauges: readonly Um[], most: number): Piercings {
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
  const ways: (readonly Way[])[] = [];
  let all = true;
  points.forEach((point, j) => {
    const found: Way[] = [];
    let [rest, weight] = [below[j]!, 0];
    const gauge = owned.has(point) ? 1 : 0;
    for (let i = j - 1; i >= -1; i--) {
      // Down to the point before, every rail must reach up to this one.
      const until = i < 0 ? 0 : below[i]!;
      let reached = true;
      while (rest > until && reached) {
        reached = rails[rest - 1]!.high >= point;
        if (reached) {
          rest -= 1;
          weight += rails[rest]!.weight;
        }
      }
      if (!reached) break;
      if (rest === below[j]!) continue;
      for (const before of i < 0 ? [START] : ways[i]!) {
        found.push({
          settings: before.settings + 1,
          gauges: before.gauges + gauge,
          total: before.total + weight * point,
          at: j,
          before,
        });
      }
    }
    const kept = best(found, most);
    all &&= !kept.cut;
    ways.push(kept.ways);
  });
  const ends = ways.flatMap((some, j) => (below[j] === rails.length ? some : []));
  const kept = best(ends, most);
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
