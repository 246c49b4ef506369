/**
 * What the sheet shows, from a batch and the plan or recut of it: mouldings, their runs, in each run the settings with
 * the sticks taken up at them, in the order of the work. Lengths are micrometres. Pure.
 */
import { frameOfRail, lineOfFrame, sideOfRail } from '../documents/ids.js';
import type { PlacedRail, Plan, PlannedStop, Remainder } from '../documents/plan/types.js';
import { joined } from '../documents/rack/flaws.js';
import type { Recut } from '../documents/recut/types.js';
import { umFromMm } from '../lengths/units.js';
import { mouldingMark, tagsOf } from '../rails/tags.js';
import type { Batch, Moulding, Um } from '../terms.js';

export interface SheetRail {
  readonly id: string;
  readonly tag: string;
  readonly frame: string;
  /** The order line of its frame. */
  readonly line: string;
  readonly side: string;
  readonly start: Um;
  readonly length: Um;
  readonly angle: number;
  readonly flipped: boolean;
}

export interface SheetStick {
  readonly name: string;
  readonly rack: boolean;
  readonly ref: string;
  readonly length: Um;
  /** To be cut, from the left end on. */
  readonly rails: readonly SheetRail[];
  /** Of a recut: what has been cut from it, and where lost rails were. */
  readonly cut: readonly SheetRail[];
  readonly lost: readonly SheetRail[];
  readonly flaws: readonly (readonly [Um, Um])[];
  readonly left: readonly {
    readonly from: Um;
    readonly to: Um;
    readonly keep: boolean;
    /** What a tape measures on it. */
    readonly length: Um;
  }[];
}

/** One stick taken to the saw for one setting. */
export interface SheetVisit {
  readonly stick: SheetStick;
  readonly rails: readonly SheetRail[];
}

export interface SheetSetting {
  readonly setting: Um;
  readonly second: Um | null;
  readonly gauge: string | null;
  /** In the order they are cut. */
  readonly angles: readonly number[];
  readonly clamp: boolean;
  /** Of a recut: it ends what was begun; the tag of a good rail to set the stop against. */
  readonly finish: boolean;
  readonly setBy: string | null;
  readonly visits: readonly SheetVisit[];
}

export interface SheetRun {
  readonly run: number;
  readonly settings: readonly SheetSetting[];
  readonly sticks: readonly SheetStick[];
}

export interface SheetMoulding {
  /** The letters its tags begin with. */
  readonly mark: string;
  readonly moulding: Moulding;
  readonly runs: readonly SheetRun[];
  readonly sticks: readonly SheetStick[];
  /** Mitre angles of its rails, degrees, most rails first. */
  readonly angles: readonly number[];
}

export interface SheetJob {
  readonly batch: Batch;
  readonly made: Plan | Recut;
  readonly mouldings: readonly SheetMoulding[];
}

type Flaws = readonly (readonly [Um, Um])[];

interface AnyStick {
  readonly stick: string;
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: number;
  readonly rails: readonly PlacedRail[];
  readonly cut?: readonly PlacedRail[];
  readonly lost?: readonly PlacedRail[];
  /** Found at the saw, millimetres. */
  readonly flaws?: readonly (readonly [number, number])[] | undefined;
  readonly left: readonly Remainder[];
}

interface AnyStop extends PlannedStop {
  readonly finish?: boolean;
  readonly setBy?: string | null;
}

function umFlaws(flaws: readonly (readonly [number, number])[]): Flaws {
  return flaws.map(([from, to]) => [umFromMm(from), umFromMm(to)] as const);
}

/** Those of the batch, and those found at the saw, from the left; where they meet, as one. */
function flawsTogether(known: Flaws, { flaws = [], length }: AnyStick): Flaws {
  return joined([...known, ...umFlaws(flaws)], umFromMm(length));
}

class Reader {
  readonly #batch: Batch;
  readonly #flaws: ReadonlyMap<string, Flaws>;

  constructor(batch: Batch, made: Plan | Recut) {
    this.#batch = batch;
    const reused = 'reused' in made ? (made.reused ?? []) : [];
    this.#flaws = new Map<string, Flaws>([
      ...batch.sticks.map(({ id, flaws }) => [id, flaws] as const),
      ...reused.map(({ id, flaws }) => [id, umFlaws(flaws)] as const),
    ]);
  }

  /** The tag of a rail that may have been cut before. */
  #tagOf(rail: string): string {
    return tagsOf(this.#batch).rail(frameOfRail(rail), sideOfRail(rail));
  }

  #rail({ rail, frame, side, start, length, angle, flipped, tag }: PlacedRail): SheetRail {
    return {
      id: rail,
      tag: tag ?? tagsOf(this.#batch).rail(frame, side),
      frame,
      line: lineOfFrame(frame),
      side,
      start: umFromMm(start),
      length: umFromMm(length),
      angle,
      flipped,
    };
  }

  stick(given: AnyStick): SheetStick {
    const rails = (of: readonly PlacedRail[] | undefined): readonly SheetRail[] =>
      (of ?? []).map((rail) => this.#rail(rail)).toSorted((a, b) => a.start - b.start);
    const rack = given.source === 'rack';
    return {
      name: given.stick,
      rack,
      ref: given.ref,
      length: umFromMm(given.length),
      rails: rails(given.rails),
      cut: rails(given.cut),
      lost: rails(given.lost),
      flaws: flawsTogether(rack ? (this.#flaws.get(given.ref) ?? []) : [], given),
      left: given.left.map(({ from, to, use, piece }) => ({
        from: umFromMm(from),
        to: umFromMm(to),
        keep: use === 'offcut',
        length: umFromMm(piece?.length ?? to - from),
      })),
    };
  }

  setting(stop: AnyStop, homes: ReadonlyMap<string, readonly [SheetStick, SheetRail]>): SheetSetting {
    const visits: { readonly stick: SheetStick; readonly rails: SheetRail[] }[] = [];
    for (const id of stop.pairs.flatMap(({ rails }) => rails)) {
      const home = homes.get(id);
      if (home === undefined) continue;
      const [stick, rail] = home;
      const last = visits.at(-1);
      if (last?.stick === stick) last.rails.push(rail);
      else visits.push({ stick, rails: [rail] });
    }
    const shortest = umFromMm(stop.second ?? stop.setting);
    return {
      setting: umFromMm(stop.setting),
      second: stop.second === null ? null : umFromMm(stop.second),
      gauge: stop.gauge,
      angles: [...new Set(visits.flatMap(({ rails }) => rails.map(({ angle }) => angle)))],
      clamp: shortest < this.#batch.saw.clampBelow,
      finish: stop.finish ?? false,
      setBy: stop.setBy ? this.#tagOf(stop.setBy) : null,
      visits,
    };
  }
}

function runsOf(
  stops: readonly AnyStop[],
  settings: readonly SheetSetting[],
  sticks: readonly SheetStick[],
): readonly SheetRun[] {
  const runs = new Map<number, SheetSetting[]>();
  stops.forEach(({ run = 1 }, i) => {
    const own = runs.get(run) ?? [];
    runs.set(run, own);
    own.push(settings[i]!);
  });
  return [...runs].map(([run, own]) => {
    const taken = new Set(own.flatMap(({ visits }) => visits.map(({ stick }) => stick)));
    return { run, settings: own, sticks: sticks.filter((stick) => taken.has(stick)) };
  });
}

function anglesOf(sticks: readonly SheetStick[]): readonly number[] {
  const counts = new Map<number, number>();
  for (const { rails } of sticks) {
    for (const { angle } of rails) counts.set(angle, (counts.get(angle) ?? 0) + 1);
  }
  return [...counts].sort((a, b) => b[1] - a[1]).map(([angle]) => angle);
}

/** Mouldings of which nothing is to be cut are left out. */
export function sheetJob(batch: Batch, made: Plan | Recut): SheetJob {
  const reader = new Reader(batch, made);
  const indices = new Map(batch.mouldings.map(({ id }, i) => [id, i]));
  const mouldings = made.mouldings.flatMap((part): SheetMoulding[] => {
    const index = indices.get(part.moulding) ?? -1;
    const moulding = batch.mouldings[index];
    if (moulding === undefined || part.stops.length === 0) return [];
    const sticks = (part.sticks as readonly AnyStick[])
      .filter(({ rails }) => rails.length > 0)
      .map((stick) => reader.stick(stick));
    const homes = new Map(
      sticks.flatMap((stick) => stick.rails.map((rail) => [rail.id, [stick, rail]] as const)),
    );
    const stops = part.stops as readonly AnyStop[];
    const settings = stops.map((stop) => reader.setting(stop, homes));
    const runs = runsOf(stops, settings, sticks);
    return [{ mark: mouldingMark(index), moulding, runs, sticks, angles: anglesOf(sticks) }];
  });
  return { batch, made, mouldings };
}

/** Every rail to be cut, in the order of the work. */
export function railsInOrder(moulding: SheetMoulding): readonly SheetRail[] {
  return moulding.runs.flatMap(({ settings }) =>
    settings.flatMap(({ visits }) => visits.flatMap(({ rails }) => rails)),
  );
}
