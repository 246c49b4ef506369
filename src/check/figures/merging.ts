/**
 * The figures with and without merged stops. That each rail lies within its range is checked with its length; here the
 * settings are counted again: those with every rail at its own, and the fewest that could serve. For rails cut at one
 * stop the fewest is the number of ranges that lie apart, found greedily: going up, take each range that begins beyond
 * the end of the last one taken. For rings of two stops there is only an upper bound: each ring goes into the first
 * group whose rings all meet it.
 */
import { moneyFromCents } from '../../documents/money.js';
import type { WayOfCutting } from '../../documents/plan/types.js';
import { mmFromUm } from '../../lengths/units.js';
import type { Um } from '../../terms.js';
import type { Context } from '../context.js';
import type { CheckedPart } from '../frames.js';
import { centsOf, umOf } from '../numbers.js';
import { type OrderedLine, sizeOf } from '../roster.js';
import { differentSettings } from '../stops.js';

type AllowedRange = readonly [low: Um, high: Um];

interface AllowedRanges {
  /** Cut at one stop. */
  readonly single: AllowedRange[];
  /** Cut at two: the longer side first. */
  readonly rings: (readonly [AllowedRange, AllowedRange])[];
  /** Settings with every rail at its own. */
  readonly own: Set<string>;
  /** A rail is not at its own setting. */
  moved: boolean;
  readonly angles: Set<number>;
}

/** Fewest points that pierce all of these. */
function pierced(ranges: readonly AllowedRange[]): number {
  let [points, last] = [0, Number.NEGATIVE_INFINITY];
  for (const [low, high] of ranges.toSorted((a, b) => a[1] - b[1])) {
    if (low <= last) continue;
    points += 1;
    last = high;
  }
  return points;
}

function both(a: AllowedRange, b: AllowedRange): AllowedRange | null {
  const [low, high] = [Math.max(a[0], b[0]), Math.min(a[1], b[1])];
  return low <= high ? [low, high] : null;
}

/** A number of runs with two stops that is enough for these rings. */
function enough(rings: AllowedRanges['rings']): number {
  const groups: (readonly [AllowedRange, AllowedRange])[] = [];
  for (const [long, short] of rings) {
    const at = groups.findIndex(([l, s]) => both(l, long) !== null && both(s, short) !== null);
    if (at < 0) groups.push([long, short]);
    else groups[at] = [both(groups[at]![0], long)!, both(groups[at]![1], short)!];
  }
  return groups.length;
}

function rangesOf(on: Context): ReadonlyMap<string, AllowedRanges> {
  const { roster, settings } = on;
  const found = new Map<string, AllowedRanges>();
  for (const ordered of roster.lines) {
    const { line, index, moulding, sides } = ordered;
    const copy = madeCopy(on, ordered);
    if (copy < 0) continue;
    const ranges = found.get(moulding.id) ?? {
      single: [],
      rings: [],
      own: new Set(),
      moved: false,
      angles: new Set(),
    };
    found.set(moulding.id, ranges);
    ranges.angles.add(sides.length);
    const sizes: readonly (0 | 1)[] = line.shape.kind === 'rectangle' ? [0, 1] : [0];
    const own = sizes.map((size) => settings.own(index, size, moulding));
    const spans = sizes.map((size, i): AllowedRange => [own[i]!, settings.longest(index, size, moulding)]);
    const [first, second] = spans;
    if (line.match === 'frame' && second !== undefined && own[0] !== own[1]) {
      ranges.rings.push(first![0] > second[0] ? [first!, second] : [second, first!]);
      ranges.own.add(`${Math.max(...own)} and ${Math.min(...own)}`);
    } else {
      ranges.single.push(...spans);
      for (const um of own) ranges.own.add(String(um));
    }
    for (let rail = ordered.firstRail; rail < ordered.firstRail + line.quantity * sides.length; rail++) {
      const length = roster.length[rail]!;
      if (length > 0 && length !== own[sizeOf(line, roster.sideOf(rail))]) ranges.moved = true;
    }
  }
  return found;
}

/** A copy of the line that is not in the shortfall; −1 when all are. */
function madeCopy({ roster }: Context, { line, firstFrame }: OrderedLine): number {
  return roster.short.subarray(firstFrame, firstFrame + line.quantity).indexOf(0);
}

const NONE: AllowedRanges = { single: [], rings: [], own: new Set(), moved: false, angles: new Set() };

function ownSettings({ own }: AllowedRanges): number {
  let count = 0;
  for (const key of own) count += key.includes(' ') ? 2 : 1;
  return count;
}

function compare(
  on: Context,
  path: string,
  found: Partial<Record<keyof WayOfCutting, number>>,
  due: Partial<Record<keyof WayOfCutting, number>>,
): void {
  for (const key of ['stopSettings', 'sticks', 'stockLength', 'cost', 'bound'] as const) {
    if (due[key] === undefined || found[key] === due[key]) continue;
    on.findings.add('CHECK_MERGING', `${path}.${key}`, String(found[key]), String(due[key]));
  }
}

function checkOne(on: Context, entry: CheckedPart, ranges: AllowedRanges): void {
  const { part, path, settings, stock, cost } = entry;
  const { findings } = on;
  const { merging, proof } = part;
  if (merging === undefined) return;
  const at = `${path}.merging`;
  const add = (key: string, found: number, holds: string) =>
    findings.add('CHECK_MERGING', `${at}.${key}`, String(found), holds);
  const merged = {
    stopSettings: differentSettings(settings),
    sticks: part.sticks.length,
    stockLength: mmFromUm(stock),
    cost: moneyFromCents(cost),
    bound: proof.bound,
  };
  compare(on, `${at}.merged`, merging.merged, merged);
  const { unmerged, leastSettings, choices } = merging;
  compare(on, `${at}.unmerged`, unmerged, {
    ...(ranges.moved ? {} : merged),
    stopSettings: ownSettings(ranges),
  });
  const value = proof.measure === 'cost' ? unmerged.cost : unmerged.stockLength;
  if (Number.isNaN(centsOf(unmerged.cost))) add('unmerged.cost', unmerged.cost, 'whole cents');
  if (Number.isNaN(umOf(unmerged.stockLength))) add('unmerged.stockLength', unmerged.stockLength, 'mm');
  // A shorter rail fits wherever a longer one does; with unlike angles their order along the stick counts too.
  const most = ranges.angles.size <= 1 ? Math.min(value, proof.value) : value;
  if (!(unmerged.bound >= 0 && unmerged.bound <= most))
    add('unmerged.bound', unmerged.bound, `at most ${most}`);
  if (choices > 0 !== ranges.moved)
    add('choices', choices, ranges.moved ? 'at least 1, as rails were merged' : '0, as no rail was merged');
  const least = leastOf(ranges);
  const right = ranges.rings.length === 0 ? leastSettings === least : leastSettings <= least;
  if (!right) add('leastSettings', leastSettings, `${ranges.rings.length === 0 ? '' : 'at most '}${least}`);
}

function leastOf({ single, rings }: AllowedRanges): number {
  const square = rings.filter(([long, short]) => both(long, short) !== null);
  const never = rings.filter((ring) => !square.includes(ring));
  const asOne = square.map(([long, short]) => both(long, short)!);
  return Math.min(pierced(single) + 2 * enough(rings), pierced([...single, ...asOne]) + 2 * enough(never));
}

/** `entries` by moulding id; every stick and stop has been looked at. */
export function checkMerging(on: Context, entries: ReadonlyMap<string, CheckedPart>): void {
  const { batch, plan, findings } = on;
  const { unmerged } = plan.totals;
  if (!batch.options.mergeStops) {
    const found = 'figures of merging';
    for (const { part, path } of entries.values()) {
      if (part.merging === undefined) continue;
      findings.add('CHECK_MERGING', `${path}.merging`, found, 'none, as the batch does not ask for it');
    }
    if (unmerged === undefined) return;
    findings.add('CHECK_MERGING', 'totals.unmerged', found, 'none, as the batch does not ask for it');
    return;
  }
  const ranges = rangesOf(on);
  for (const [id, entry] of entries) checkOne(on, entry, ranges.get(id) ?? NONE);
  if (unmerged === undefined) return;
  const parts = [...entries.keys()];
  const stopSettings = parts.reduce((sum, id) => sum + ownSettings(ranges.get(id) ?? NONE), 0);
  compare(on, 'totals.unmerged', unmerged, { stopSettings });
  const figures = [...entries.values()].map(({ part }) => part.merging);
  if (figures.includes(undefined)) return;
  const cents = figures.reduce((sum, one) => sum + centsOf(one?.unmerged.cost ?? 0), 0);
  compare(on, 'totals.unmerged', unmerged, { cost: moneyFromCents(cents) });
}
