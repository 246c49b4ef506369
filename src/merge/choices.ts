/** The settings for the rails of one moulding where stops are merged: as few as possible, in every way worth solving. */
import type { SettingRange } from '../rails/ranges.js';
import type { Um } from '../terms.js';
import { compareWays, type Piercing, piercings, pointFor, type SideRange } from './pierce.js';
import { type Box, coverRings, type Runs } from './rings.js';

/** Rails of one size of an order line. */
export interface Side extends SettingRange {
  /** How many of these rails are made; a side of which none is made keeps its own setting. */
  readonly weight: number;
}

/** A frame matched all round with two sizes: indices of its sides, the longer first. */
export type Ring = readonly [number, number];

export interface Choices {
  /** For each choice the setting of each side, in their order. All choices have equally few settings and equally many gauge sticks. */
  readonly lengths: readonly (readonly Um[])[];
  /** Stop settings of each choice; a second stop counts as one more. */
  readonly stopSettings: number;
  /** Proven: no fewer serve every side within its range. */
  readonly least: number;
  /** Whether every choice worth solving is listed: no other one with as few settings and as many gauge sticks has a shorter side. */
  readonly all: boolean;
}

/** Up to so many rings that could be cut square, hence at one stop, each is tried both ways. With more, all are or none is. */
const SQUARED_MOST = 6;
/** With more sides than this, rings are not tried one by one either. */
const SIDES_MOST = 5_000;

function square([a, b]: Ring, sides: readonly Side[]): SideRange | null {
  const [one, other] = [sides[a]!, sides[b]!];
  const span = { low: Math.max(one.low, other.low), high: Math.min(one.high, other.high) };
  return span.low <= span.high ? { ...span, weight: one.weight + other.weight } : null;
}

function subsets(size: number, each: boolean): readonly (readonly boolean[])[] {
  const all = Array.from({ length: size }, () => true);
  if (!each) return [all.map(() => false), all];
  return Array.from({ length: 2 ** size }, (_, bits) => all.map((_, i) => ((bits >> i) & 1) === 1));
}

interface Arrangement {
  /** Rings cut at one stop, and those cut at two. */
  readonly squared: readonly Ring[];
  readonly others: readonly Ring[];
  readonly spans: readonly SideRange[];
  readonly runs: Runs;
  readonly settings: number;
  readonly gauges: number;
  readonly total: number;
}

function boxOf([a, b]: Ring, sides: readonly Side[]): Box {
  return { long: sides[a]!, short: sides[b]!, weight: sides[a]!.weight };
}

function arrange(
  sides: readonly Side[],
  singles: readonly SideRange[],
  squared: readonly Ring[],
  others: readonly Ring[],
  gauges: readonly Um[],
): Arrangement {
  const spans = [...singles, ...squared.map((ring) => square(ring, sides)!)];
  const runs = coverRings(
    others.map((ring) => boxOf(ring, sides)),
    gauges,
  );
  const [first] = piercings(spans, gauges, 1).found;
  return {
    squared,
    others,
    spans,
    runs,
    settings: first!.points.length + 2 * runs.runs.length,
    gauges: first!.gauges + runs.gauges,
    total: first!.total + runs.total,
  };
}

function lengthsOf(sides: readonly Side[], arranged: Arrangement, { points }: Piercing): readonly Um[] {
  const lengths = sides.map(({ low, weight }) => (weight === 0 ? low : -1));
  for (const ring of arranged.squared) {
    const point = pointFor(points, square(ring, sides)!.low);
    for (const side of ring) lengths[side] = point;
  }
  for (const { long, short, boxes } of arranged.runs.runs) {
    for (const box of boxes) {
      const [a, b] = arranged.others[box]!;
      lengths[a] = long;
      lengths[b] = short;
    }
  }
  return lengths.map((length, i) => (length < 0 ? pointFor(points, sides[i]!.low) : length));
}

/** No side of `by` is longer, and at least one is shorter. */
function dominated(lengths: readonly Um[], by: readonly Um[]): boolean {
  return by.every((length, i) => length <= lengths[i]!) && by.some((length, i) => length < lengths[i]!);
}

/**
 * Up to `most` choices, those with the least length of rails first. A choice is left out when another has no side longer
 * and one shorter. `gauges` ascending. The sides of a ring have unlike `low`; every other side is cut at one stop.
 */
export function choicesOf(
  sides: readonly Side[],
  rings: readonly Ring[],
  gauges: readonly Um[],
  most: number,
): Choices {
  const inRing = new Set(rings.flat());
  const singles = sides.filter((side, i) => side.weight > 0 && !inRing.has(i));
  const made = rings.filter(([a]) => sides[a]!.weight > 0);
  const either = made.filter((ring) => square(ring, sides) !== null);
  const never = made.filter((ring) => square(ring, sides) === null);
  const each = either.length <= SQUARED_MOST && sides.length <= SIDES_MOST;
  const arranged = subsets(either.length, each).map((squared) =>
    arrange(
      sides,
      singles,
      either.filter((_, i) => squared[i]),
      [...never, ...either.filter((_, i) => !squared[i])],
      gauges,
    ),
  );
  const best = arranged.reduce((a, b) => (compareWays(a, b) <= 0 ? a : b));
  const whole =
    (each || either.length === 0) && arranged.every(({ runs }) => runs.least === runs.runs.length);
  const alone = arrange(sides, singles, [], never, gauges);
  const least = whole ? best.settings : alone.settings - 2 * (alone.runs.runs.length - alone.runs.least);
  const pierced = piercings(best.spans, gauges, most);
  const found = pierced.found.map((piercing) => lengthsOf(sides, best, piercing));
  return {
    lengths: found.filter((lengths) => !found.some((other) => dominated(lengths, other))),
    stopSettings: best.settings,
    least,
    all: pierced.all && made.length === 0,
  };
}
