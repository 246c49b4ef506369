/**
 * The fewest runs with two stops for frames matched all round. A ring allows a box: a range for the longer stop and one
 * for the shorter. Boxes that meet two by two have a point in common (Helly's theorem for boxes), so runs are groups of
 * boxes that all meet. Covering boxes by fewest points is NP-hard in the plane (Fowler, Paterson, Tanimoto, Information
 * Processing Letters 12, 1981), but a moulding has few ring sizes. So the search is exhaustive, and says when it was cut off.
 */

import type { SettingRange } from '../rails/ranges.js';
import type { Um } from '../terms.js';

export interface Box {
  readonly long: SettingRange;
  readonly short: SettingRange;
  /** Rails at each of the two stops. */
  readonly weight: number;
}

export interface Run {
  readonly long: Um;
  readonly short: Um;
  /** Indices of boxes. */
  readonly boxes: readonly number[];
}

export interface Runs {
  readonly runs: readonly Run[];
  /** Gauge sticks that set the longer stops. */
  readonly gauges: number;
  readonly total: number;
  /** No cover has fewer runs than this. */
  readonly least: number;
}

/** Groupings looked at for each set of boxes that meet, directly or through others. */
const NODES = 50_000;
/** With more boxes than this there is no search: they are put into groups one after the other. Orders have a dozen ring sizes. */
const SEARCHED_MOST = 400;
const NEAR_GROUPS = 64;

interface Group {
  readonly long: SettingRange;
  readonly short: SettingRange;
  readonly boxes: readonly number[];
}

function meet(a: SettingRange, b: SettingRange): SettingRange | null {
  const both = { low: Math.max(a.low, b.low), high: Math.min(a.high, b.high) };
  return both.low <= both.high ? both : null;
}

function joined(group: Group, box: Box, at: number): Group | null {
  const [long, short] = [meet(group.long, box.long), meet(group.short, box.short)];
  return long === null || short === null ? null : { long, short, boxes: [...group.boxes, at] };
}

/** Boxes that meet, directly or through others. */
function components(boxes: readonly Box[]): readonly (readonly number[])[] {
  const of = boxes.map((_, i) => i);
  const root = (i: number): number => (of[i] === i ? i : root(of[i]!));
  boxes.forEach((a, i) => {
    for (let j = 0; j < i; j++) {
      const b = boxes[j]!;
      if (meet(a.long, b.long) !== null && meet(a.short, b.short) !== null) of[root(i)] = root(j);
    }
  });
  const sets = new Map<number, number[]>();
  boxes.forEach((_, i) => {
    const set = sets.get(root(i)) ?? [];
    set.push(i);
    sets.set(root(i), set);
  });
  return [...sets.values()];
}

/** Boxes no two of which meet: each needs a run of its own. */
function apart(boxes: readonly Box[], some: readonly number[]): number {
  const chosen: Box[] = [];
  const byEnd = some.toSorted((a, b) => boxes[a]!.long.high - boxes[b]!.long.high);
  for (const i of byEnd) {
    const box = boxes[i]!;
    const free = chosen.every(
      (other) => meet(other.long, box.long) === null || meet(other.short, box.short) === null,
    );
    if (free) chosen.push(box);
  }
  return chosen.length;
}

type Covered = Omit<Runs, 'least'>;

/** The settings of these groups: a gauge stick for the longer stop where one lies in its range. */
function coverOf(boxes: readonly Box[], groups: readonly Group[], gauges: readonly Um[]): Covered {
  let [owned, total] = [0, 0];
  const runs = groups.map(({ long, short, boxes: own }): Run => {
    const gauge = gauges.find((length) => length >= long.low && length <= long.high);
    if (gauge !== undefined) owned += 1;
    const run = { long: gauge ?? long.low, short: short.low, boxes: own };
    total += own.reduce((sum, i) => sum + boxes[i]!.weight * (run.long + run.short), 0);
    return run;
  });
  return { runs, gauges: owned, total };
}

class Cover {
  readonly #boxes: readonly Box[];
  readonly #some: readonly number[];
  readonly #gauges: readonly Um[];
  #nodes = NODES;
  best: Covered | null = null;

  constructor(boxes: readonly Box[], some: readonly number[], gauges: readonly Um[]) {
    this.#boxes = boxes;
    this.#some = some.toSorted((a, b) => boxes[a]!.long.low - boxes[b]!.long.low || a - b);
    this.#gauges = gauges;
    this.#place(0, []);
  }

  get whole(): boolean {
    return this.#nodes > 0;
  }

  #place(next: number, groups: readonly Group[]): void {
    // The first descent is always finished, so there is a cover.
    if (this.#nodes <= 0 && this.best !== null) return;
    this.#nodes -= 1;
    if (this.best !== null && groups.length > this.best.runs.length) return;
    const at = this.#some[next];
    if (at === undefined) {
      this.#keep(groups);
      return;
    }
    const box = this.#boxes[at]!;
    groups.forEach((group, g) => {
      const larger = joined(group, box, at);
      if (larger !== null) this.#place(next + 1, groups.with(g, larger));
    });
    this.#place(next + 1, [...groups, { long: box.long, short: box.short, boxes: [at] }]);
  }

  #keep(groups: readonly Group[]): void {
    const found = coverOf(this.#boxes, groups, this.#gauges);
    const { best } = this;
    const better =
      best === null ||
      (found.runs.length - best.runs.length || best.gauges - found.gauges || found.total - best.total) < 0;
    if (better) this.best = found;
  }
}

/** How many ranges lie apart: each of these needs a setting of its own. */
function disjoint(ranges: readonly SettingRange[]): number {
  let [count, last] = [0, Number.NEGATIVE_INFINITY];
  for (const { low, high } of ranges.toSorted((a, b) => a.high - b.high)) {
    if (low <= last) continue;
    count += 1;
    last = high;
  }
  return count;
}

/** Each box into one of the latest groups that it meets; for more boxes than can be searched. */
function inTurn(boxes: readonly Box[]): readonly Group[] {
  const groups: { long: SettingRange; short: SettingRange; boxes: number[] }[] = [];
  const order = [...boxes.keys()].sort((a, b) => boxes[a]!.long.low - boxes[b]!.long.low || a - b);
  for (const at of order) {
    const box = boxes[at]!;
    let found = false;
    for (let g = Math.max(0, groups.length - NEAR_GROUPS); g < groups.length && !found; g++) {
      const group = groups[g]!;
      const [long, short] = [meet(group.long, box.long), meet(group.short, box.short)];
      if (long === null || short === null) continue;
      Object.assign(group, { long, short });
      group.boxes.push(at);
      found = true;
    }
    if (!found) groups.push({ long: box.long, short: box.short, boxes: [at] });
  }
  return groups;
}

/** Fewest runs, then most gauge sticks, then least length; `gauges` ascending. */
export function coverRings(boxes: readonly Box[], gauges: readonly Um[]): Runs {
  if (boxes.length > SEARCHED_MOST) {
    const groups = inTurn(boxes);
    const cover = coverOf(boxes, groups, gauges);
    return { ...cover, least: disjoint(boxes.map(({ long }) => long)) };
  }
  let [total, owned, least] = [0, 0, 0];
  const runs: Run[] = [];
  for (const some of components(boxes)) {
    const cover = new Cover(boxes, some, gauges);
    const found = cover.best!;
    runs.push(...found.runs);
    total += found.total;
    owned += found.gauges;
    least += cover.whole ? found.runs.length : apart(boxes, some);
  }
  return { runs, gauges: owned, total, least };
}
