/** The state of the shop: a plan, part of it cut, some of that lost. Lengths are micrometres. */

import { lineOfFrame } from '../documents/ids.js';
import type { PlacedRail, PlannedStop } from '../documents/plan/types.js';
import { joined } from '../documents/rack/flaws.js';
import type { FoundFlaw } from '../documents/recut/types.js';
import type { WorkInHand, WorkStick } from '../documents/recut/work.js';
import { umFromMm } from '../lengths/units.js';
import { sidesOf } from '../rails/rails.js';
import { clearSpans, lanesOf } from '../stock/lanes.js';
import type { ResolvedBatch } from '../stock/resolved.js';
import type { MouldingTask, Source } from '../stock/task.js';
import { type Batch, type FrameLine, RAW_ENDS, type RackEntry } from '../terms.js';
import { umSpans } from './flaws.js';
import { divided } from './lanes.js';
import type { CutLane, ShopRail } from './room.js';

/** `displaced`: not cut, and no longer possible where it was planned. */
export type Fate = 'good' | 'lost' | 'displaced' | 'open';

export interface ShopStick {
  /** The run of the plan it is cut in. */
  readonly run: number;
  readonly name: string;
  readonly source: Source;
  /** Flaws that the batch does not know of, as the documents have them. */
  readonly found: readonly FoundFlaw[];
  readonly lanes: readonly CutLane[];
  /** Cut, with a flaw in them, and before no lane: only their wood is gone. */
  readonly aside: readonly ShopRail[];
  /** Still to be cut, and no longer possible where they were planned. */
  readonly displaced: readonly ShopRail[];
  /** Nothing has been cut from it. */
  readonly whole: boolean;
}

export interface ShopState {
  readonly task: MouldingTask;
  readonly sticks: readonly ShopStick[];
  /** Ids of those lost now. */
  readonly lost: ReadonlySet<string>;
  /** Wood of rails that were lost in earlier mishaps: they were to be cut elsewhere since. */
  readonly lostBefore: ReadonlySet<ShopRail>;
  /** Offer ids to pieces bought so far. */
  readonly bought: ReadonlyMap<string, number>;
}

function stopsByRail(stops: readonly PlannedStop[]): ReadonlyMap<string, PlannedStop> {
  return new Map(
    stops.flatMap((stop) => stop.pairs.flatMap(({ rails }) => rails.map((rail) => [rail, stop] as const))),
  );
}

export function lineNames(batch: Batch): ReadonlyMap<string, FrameLine> {
  return new Map(batch.frames.map((line) => [line.id, line]));
}

function sourceOf(task: MouldingTask, stick: WorkStick, entry: RackEntry | undefined): Source {
  const { source, ref } = stick;
  const length = umFromMm(stick.length);
  const { ends } = entry ?? { ends: RAW_ENDS };
  const flaws = joined([...(entry?.flaws ?? []), ...umSpans(stick.flaws)], length);
  const clear = clearSpans({ ends, flaws, length }, task.moulding, task.spacing.recut);
  return { source, ref, length, ends, flaws, clear, lanes: lanesOf(clear, task.spacing), copies: null };
}

/** One moulding of sound work, `cut` of it cut; null when nothing of it is ordered. */
export function standingOf(
  resolved: ResolvedBatch,
  work: WorkInHand,
  moulding: string,
  cut: ReadonlySet<string>,
  lost: ReadonlySet<string>,
): ShopState | null {
  const { batch } = resolved;
  const task = resolved.task(resolved.order(moulding));
  const part = work.mouldings.find((one) => one.moulding === moulding);
  if (task === null || part === undefined) return null;
  const lines = lineNames(batch);
  const stops = stopsByRail(part.stops);
  const kindOf = new Map(task.spacing.mitres.map((mitre, kind) => [mitre.sides, kind]));
  const entries = new Map(task.rack.map((entry) => [entry.id, entry]));
  const railOf = (placed: PlacedRail, dead: boolean): ShopRail => {
    const line = lines.get(lineOfFrame(placed.frame));
    if (line === undefined) throw new RangeError(`${placed.rail} is not of this batch`);
    // Rails cut before an earlier mishap no longer have a stop.
    const { setting = placed.length, second = null } = stops.get(placed.rail) ?? {};
    return {
      id: placed.rail,
      frame: placed.frame,
      line,
      side: placed.side,
      length: umFromMm(placed.length),
      kind: kindOf.get(sidesOf(line)) ?? 0,
      start: umFromMm(placed.start),
      flipped: placed.flipped,
      setting: umFromMm(setting),
      second: second === null ? null : umFromMm(second),
      dead,
    };
  };
  const lostBefore = new Set<ShopRail>();
  const sticks = part.sticks.map((stick): ShopStick => {
    const source = sourceOf(task, stick, stick.source === 'rack' ? entries.get(stick.ref) : undefined);
    const before = stick.lost.map((rail) => railOf(rail, true));
    for (const rail of before) lostBefore.add(rail);
    const gone = new Set([
      ...stick.cut.map((rail) => railOf(rail, lost.has(rail.rail))),
      ...before,
      ...stick.rails.filter(({ rail }) => cut.has(rail)).map((rail) => railOf(rail, lost.has(rail.rail))),
    ]);
    const open = stick.rails.filter(({ rail }) => !cut.has(rail)).map((rail) => railOf(rail, false));
    const isCut = (rail: ShopRail): boolean => gone.has(rail);
    const parts = divided(source, task.spacing, [...gone, ...open], isCut, stick.flaws.length > 0);
    const { stick: name, flaws: found, run = 1 } = stick;
    return { run, name, source, found, ...parts, whole: gone.size === 0 };
  });
  const bought = work.bought
    .filter((purchase) => purchase.moulding === moulding)
    .map(({ offer, count }) => [offer, count] as const);
  return { task, sticks, lost, lostBefore, bought: new Map(bought) };
}

export interface Home {
  readonly stick: number;
  /** −1: of none, for the rail has a flaw in it. */
  readonly lane: number;
  readonly rail: ShopRail;
}

/** The stick each rail is on now: where it is to be cut, was cut, or has just been lost. */
export function homesOf(standing: ShopState): ReadonlyMap<string, Home> {
  const homes = new Map<string, Home>();
  standing.sticks.forEach(({ lanes, aside, displaced }, stick) => {
    const note = (rail: ShopRail, lane: number): void => {
      if (!standing.lostBefore.has(rail)) homes.set(rail.id, { stick, lane, rail });
    };
    for (const rail of [...aside, ...displaced]) note(rail, -1);
    lanes.forEach((lane, l) => {
      for (const rail of [...lane.gone, ...lane.open]) note(rail, l);
    });
  });
  return homes;
}
