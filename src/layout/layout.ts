/**
 * Patterns become sticks with named rails. Which sticks are cut, and how many of each item from which, is settled;
 * what is left to choose costs nothing and is chosen for the saw: like rails next to each other, both rails of a pair
 * from one stick, sticks fetched once a setting.
 */
import { standings } from '../stock/spacing.js';
import type { Copies, MouldingTask, Source, UnitType } from '../stock/task.js';
import type { Um } from '../terms.js';
import { groupsOf } from './groups.js';
import { type Left, leftOf } from './left.js';
import { copiesByLine, type Named, namesOf, unitTypesByItem } from './names.js';
import { type Shared, type Slots, shareOut, type UnitSize } from './shares.js';
import { type RunPatterns, sticksOf } from './sticks.js';
import { visitOrder } from './visits.js';

/** Rails of one frame copy cut one after the other; `sides` in that order. */
export interface LaidUnit extends Named {
  readonly sides: readonly string[];
}

export interface LaidRail {
  readonly unit: LaidUnit;
  readonly side: string;
  readonly start: Um;
  readonly length: Um;
  readonly kind: number;
  readonly flipped: boolean;
}

export interface LaidStick {
  /** From 0. */
  readonly run: number;
  readonly source: Source;
  readonly copy: number;
  /** Lane by lane, from the left. */
  readonly lanes: readonly (readonly LaidRail[])[];
  readonly left: readonly Left[];
}

/** Units that share run, setting, second stop and angle, in the order they are cut. */
export interface LaidGroup {
  readonly run: number;
  readonly setting: Um;
  readonly second: Um | null;
  readonly kind: number;
  readonly units: readonly LaidUnit[];
}

export interface Layout {
  readonly sticks: readonly LaidStick[];
  /** In the order of work. */
  readonly groups: readonly LaidGroup[];
}

interface RailInLane {
  readonly unit: LaidUnit;
  readonly side: string;
  readonly kind: number;
  readonly length: Um;
}

/** A unit that has its place but no frame yet. */
interface Placed {
  readonly item: number;
  readonly bundle: number;
  readonly shares: Shared;
}

/** How many of an item a run holds for bundles of each size, large ones first. */
interface BundleCount {
  readonly bundle: number;
  readonly count: number;
}

/** `counts`: of the item in each run. Large bundles first; the division into runs makes sure that small ones take the rest. */
function bundlesByRun(
  types: readonly UnitType[],
  made: ReadonlyMap<number, number>,
  counts: readonly number[],
): readonly (readonly BundleCount[])[] {
  const sizes = [...new Set(types.map(({ bundle }) => bundle))].sort((a, b) => b - a);
  const rest = [...counts];
  const bundles = rest.map((): BundleCount[] => []);
  for (const bundle of sizes) {
    const own = types.filter((type) => type.bundle === bundle);
    let missing = own.reduce(
      (sum, { line, sides, whole }) => sum + (made.get(line) ?? 0) * (whole ? 1 : sides.length),
      0,
    );
    for (const run of rest.keys()) {
      const count = Math.min(missing, rest[run]! - (rest[run]! % bundle));
      if (count > 0) bundles[run]!.push({ bundle, count });
      rest[run]! -= count;
      missing -= count;
    }
    if (missing > 0) throw new RangeError('pairs or rings are parted by the division into runs');
  }
  return bundles;
}

function placedUnits(
  item: number,
  types: readonly UnitType[],
  slots: readonly Slots[],
  bundles: readonly BundleCount[],
  share: Ways['shareOut'],
): readonly Placed[] {
  if (types[0]?.whole) {
    const size = types[0].sides.length;
    const of = bundles.flatMap(({ bundle, count }) => Array.from({ length: count }, () => bundle));
    return slots
      .flatMap(({ stick, lane, count }) =>
        Array.from({ length: count }, () => [{ stick, lane, count: size }]),
      )
      .map((shares, i) => ({ item, bundle: of[i]!, shares }));
  }
  // Rails of the item are single: a unit is a bundle.
  const sizes = bundles.map(({ bundle, count }): UnitSize => ({ size: bundle, count: count / bundle }));
  return [...share(slots, sizes)].flatMap(([bundle, units]) =>
    units.map((shares) => ({ item, bundle, shares })),
  );
}

/** How rails are handed to sticks and settings. Only benches use another than `HANDY`, to show what each step gains. */
export interface Ways {
  readonly shareOut: (slots: readonly Slots[], sizes: readonly UnitSize[]) => ReadonlyMap<number, Shared[]>;
  readonly visitOrder: (units: readonly Shared[]) => readonly number[];
}

const HANDY: Ways = { shareOut, visitOrder };

/** The patterns of all runs cover exactly the rails of `copies`; each run holds whole pairs and rings. */
export function layOut(
  task: MouldingTask,
  copies: Copies,
  runs: readonly RunPatterns[],
  ways: Ways = HANDY,
): Layout {
  const sticks = sticksOf(task, runs);
  const made = copiesByLine(task, copies);
  const types = unitTypesByItem(task);
  const slots = runs.map(() => task.items.map((): Slots[] => []));
  sticks.forEach((stick, s) => {
    stick.lanes.forEach((entries, lane) => {
      for (const { item, count } of entries) slots[stick.run]![item]!.push({ stick: s, lane, count });
    });
  });
  const bundles = task.items.map((_, item) => {
    const counts = slots.map((own) => own[item]!.reduce((sum, { count }) => sum + count, 0));
    return bundlesByRun(types[item]!, made, counts);
  });
  const inLane = sticks.map((stick) => stick.lanes.map((): RailInLane[] => []));
  const names = new Map<string, Generator<Named, undefined>>();
  const nameOf = (item: number, bundle: number): LaidUnit => {
    const key = `${item}/${bundle}`;
    const queue =
      names.get(key) ??
      namesOf(
        types[item]!.filter((type) => type.bundle === bundle),
        made,
      );
    names.set(key, queue);
    const named = queue.next().value;
    if (named === undefined)
      throw new RangeError(`patterns hold more rails of item ${item} than are asked for`);
    return { ...named, sides: named.type.sides };
  };
  const byGroup = groupsOf(task.items);
  const groups: LaidGroup[] = [];
  for (const [run, { order }] of runs.entries()) {
    for (const group of order?.map((at) => byGroup[at]!) ?? byGroup) {
      const placed = group.flatMap((item) =>
        placedUnits(item, types[item]!, slots[run]![item]!, bundles[item]![run]!, ways.shareOut),
      );
      const units: LaidUnit[] = [];
      for (const at of ways.visitOrder(placed.map((unit) => unit.shares))) {
        const { item, bundle, shares } = placed[at]!;
        const unit = nameOf(item, bundle);
        const { settings, kind } = task.items[item]!;
        let next = 0;
        for (const share of shares) {
          for (let i = 0; i < share.count; i++, next++) {
            const length = settings[next] ?? settings[0]!;
            inLane[share.stick]![share.lane]!.push({ unit, side: unit.sides[next]!, kind, length });
          }
        }
        units.push(unit);
      }
      const { setting, second, kind } = task.items[group[0]!]!;
      if (units.length > 0) groups.push({ run, setting, second, kind, units });
    }
  }
  return {
    sticks: sticks.map(({ run, source, copy }, s) => {
      const lanes = inLane[s]!.map((rails, lane) => {
        const stand = standings(task.spacing, source.lanes[lane]!.from, rails);
        return rails.map(({ unit, side, kind, length }, i): LaidRail => {
          const { start, flipped } = stand[i]!;
          return { unit, side, kind, length, start, flipped };
        });
      });
      return { run, source, copy, lanes, left: leftOf(task, source, lanes) };
    }),
    groups,
  };
}
