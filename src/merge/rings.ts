/**
 * The fewest runs with two stops for frames matched all round. A ring allows a box: a range for the longer stop and one
 * for the shorter. Boxes that meet two by two have a point in common (Helly's theorem for boxes), so runs are groups of
 * boxes that all meet. Covering boxes by fewest points is NP-hard in the plane (Fowler, Paterson, Tanimoto, Information
 * Processing Letters 12, 1981), and a moulding has few ring sizes: an exhaustive search, which says when it was cut off.
 */

import type { Range } from '../rails/ranges.js';
import type { Um } from '../terms.js';

export interface Box {
  readonly long: Range;
  readonly short: Range;
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
  /** Of the longer stops. */
  readonly gauges: number;
  readonly total: number;
  /** No cover has fewer runs than this. */
  readonly least: number;
}

/** Groupings looked at for each set of boxes that hang together. */
const NODES = 50_000;

interface Group {
  readonly long: Range;
  readonly short: Range;
  readonly boxes: readonly number[];
}

function meet(a: Range, b: Range): Range | null {
  const both = { low: Math.max(a.low, b.low), high: Math.min(a.high, b.high) };
  return both.low <= both.high ? both : null;
}

function joined(group: Group, box: Box, at: number): Group | null {
  const [long, short] = [meet(group.long, box.long), meet(group.short, box.short)];
  return long === null || short === null ? null : { long, short, boxes: [...group.boxes, at] };
}

/** Boxes that meet, directly or over others. */
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

class Cover {
  readonly #boxes: readonly Box[];
  readonly #some: readonly number[];
  readonly #gauges: readonly Um[];
  #nodes = NODES;
  best: { readonly runs: readonly Run[]; readonly gauges: number; readonly total: number } | null = null;

  constructor(boxes: readonly Box[], some: readonly number[], gauges: readonly Um[]) {
    this.#boxes = boxes;
    this.#some = some.toSorted((a, b) => boxes[a]!.long.low - boxes[b]!.long.low || a - b);
    this.#gauges = gauges;
    this.#place(0, []);
  }

  get whole(): boolean {
    return this.#nodes > 0;
  }

  #run(group: Group): Run & { readonly gauge: boolean } {
    const gauge = this.#gauges.find((length) => length >= group.long.low && length <= group.long.high);
    return {
      long: gauge ?? group.long.low,
      short: group.short.low,
      boxes: group.boxes,
      gauge: gauge !== undefined,
    };
  }

  #place(next: number, groups: readonly Group[]): void {
    // The first way down is always finished, so that there is a cover.
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
    const runs = groups.map((group) => this.#run(group));
    const gauges = runs.filter(({ gauge }) => gauge).length;
    const total = runs.reduce(
      (sum, { long, short, boxes }) =>
        sum + boxes.reduce((own, i) => own + this.#boxes[i]!.weight * (long + short), 0),
      0,
    );
    const { best } = this;
    const better =
      best === null || (runs.length - best.runs.length || best.gauges - gauges || total - best.total) < 0;
    if (better) this.best = { runs, gauges, total };
  }
}

/** Fewest runs, then most gauge sticks, then least length; `gauges` ascending. */
export function coverRings(boxes: readonly Box[], gauges: readonly Um[]): Runs {
  let [total, owned, least] = [0, 0, 0];
  const runs: Run[] = [];
  for (const some of components(boxes)) {
    const cover = new Cover(boxes, some, gauges);
    const found = cover.best!;
    runs.push(...found.runs.map(({ long, short, boxes: own }) => ({ long, short, boxes: own })));
    total += found.total;
    owned += found.gauges;
    least += cover.whole ? found.runs.length : apart(boxes, some);
  }
  return { runs, gauges: owned, total, least };
}
