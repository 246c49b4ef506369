/**
 * Patterns become sticks with named rails. Which sticks are cut, and how many of each item from which, is settled;
 * what is left to choose costs nothing and is chosen for the saw: like rails next to each other, both rails of a pair
 * from one stick, sticks fetched once a setting.
 */
import type { Pattern } from '../solve/problem.js';
import { standings } from '../stock/spacing.js';
import type { Copies, MouldingTask, Source, UnitType } from '../stock/task.js';
import type { Um } from '../terms.js';
import { type Left, leftOf } from './left.js';
import { copiesByLine, type Named, namesOf, unitTypesByItem } from './names.js';
import { runsOf } from './runs.js';
import { type Shared, type Slots, shareOut, type UnitSize } from './shares.js';
import { sticksOf } from './sticks.js';
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
  readonly source: Source;
  readonly copy: number;
  /** Lane by lane, from the left. */
  readonly lanes: readonly (readonly LaidRail[])[];
  readonly left: readonly Left[];
}

/** Units that share setting, second stop and angle, in the order they are cut. */
export interface LaidRun {
  readonly setting: Um;
  readonly second: Um | null;
  readonly kind: number;
  readonly units: readonly LaidUnit[];
}

export interface Layout {
  readonly sticks: readonly LaidStick[];
  readonly runs: readonly LaidRun[];
}

interface RailInLane {
  readonly unit: LaidUnit;
  readonly side: string;
  readonly kind: number;
  readonly length: Um;
}

/** A unit with its place but no name yet. */
interface Placed {
  readonly item: number;
  readonly size: number;
  readonly shares: Shared;
}

function sizesOf(types: readonly UnitType[], made: ReadonlyMap<number, number>) {
  const counts = new Map<number, number>();
  for (const { line, sides } of types) {
    counts.set(sides.length, (counts.get(sides.length) ?? 0) + (made.get(line) ?? 0));
  }
  return [...counts].map(([size, count]) => ({ size, count }));
}

function placedUnits(
  item: number,
  types: readonly UnitType[],
  slots: readonly Slots[],
  made: ReadonlyMap<number, number>,
  share: Ways['shareOut'],
): readonly Placed[] {
  const size = types[0]?.sides.length ?? 0;
  if (types[0]?.whole) {
    return slots.flatMap(({ stick, lane, count }) =>
      Array.from({ length: count }, () => ({ item, size, shares: [{ stick, lane, count: size }] })),
    );
  }
  const shared = share(slots, sizesOf(types, made));
  return [...shared].flatMap(([unitSize, units]) =>
    units.map((shares) => ({ item, size: unitSize, shares })),
  );
}

/** How rails are handed to sticks and settings; other than `HANDY` only to show in a bench what each is good for. */
export interface Ways {
  readonly shareOut: (slots: readonly Slots[], sizes: readonly UnitSize[]) => ReadonlyMap<number, Shared[]>;
  readonly visitOrder: (units: readonly Shared[]) => readonly number[];
}

const HANDY: Ways = { shareOut, visitOrder };

/** `patterns` cover exactly the rails of `copies`. */
export function layOut(
  task: MouldingTask,
  copies: Copies,
  patterns: readonly Pattern[],
  ways: Ways = HANDY,
): Layout {
  const sticks = sticksOf(task, patterns);
  const made = copiesByLine(task, copies);
  const types = unitTypesByItem(task);
  const slots = task.items.map((): Slots[] => []);
  sticks.forEach((stick, s) => {
    stick.lanes.forEach((entries, lane) => {
      for (const { item, count } of entries) slots[item]!.push({ stick: s, lane, count });
    });
  });
  const inLane = sticks.map((stick) => stick.lanes.map((): RailInLane[] => []));
  const runs: LaidRun[] = [];
  for (const run of runsOf(task.items)) {
    const placed = run.flatMap((item) => placedUnits(item, types[item]!, slots[item]!, made, ways.shareOut));
    const names = new Map<string, Generator<Named, undefined>>();
    const units: LaidUnit[] = [];
    for (const at of ways.visitOrder(placed.map((unit) => unit.shares))) {
      const { item, size, shares } = placed[at]!;
      const key = `${item}/${size}`;
      const queue =
        names.get(key) ??
        namesOf(
          types[item]!.filter((type) => type.sides.length === size),
          made,
        );
      names.set(key, queue);
      const named = queue.next().value;
      if (named === undefined)
        throw new RangeError(`patterns hold more rails of item ${item} than are asked for`);
      const unit: LaidUnit = { ...named, sides: named.type.sides };
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
    const { setting, second, kind } = task.items[run[0]!]!;
    if (units.length > 0) runs.push({ setting, second, kind, units });
  }
  return {
    sticks: sticks.map(({ source, copy }, s) => {
      const lanes = inLane[s]!.map((rails, lane) => {
        const stand = standings(task.spacing, source.lanes[lane]!.from, rails);
        return rails.map(({ unit, side, kind, length }, i): LaidRail => {
          const { start, flipped } = stand[i]!;
          return { unit, side, kind, length, start, flipped };
        });
      });
      return { source, copy, lanes, left: leftOf(task, source, lanes) };
    }),
    runs,
  };
}
