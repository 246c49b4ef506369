/** The state of the shop: a plan, part of it cut, some of that lost. Lengths are micrometres. */

import { lineOfFrame } from '../documents/ids.js';
import type { PlacedRail, PlannedStop } from '../documents/plan/types.js';
import { umFromMm } from '../lengths/units.js';
import { sidesOf } from '../rails/rails.js';
import { clearSpans, lanesOf } from '../stock/lanes.js';
import type { ResolvedBatch } from '../stock/resolved.js';
import type { MouldingTask, Source } from '../stock/task.js';
import { type Batch, type FrameLine, RAW_ENDS, type RackEntry, type Um } from '../terms.js';
import type { WorkInHand, WorkStick } from './work.js';

export interface ShopRail {
  readonly id: string;
  /** `frame id/copy`, the order line and the side. */
  readonly frame: string;
  readonly line: FrameLine;
  readonly side: string;
  readonly length: Um;
  readonly kind: number;
  readonly start: Um;
  readonly flipped: boolean;
  /** The stop it is cut at: the longer one where there are two. */
  readonly setting: Um;
  readonly second: Um | null;
  /** Lost now or before: its wood is gone, and it is not to be cut from there any more. */
  readonly dead: boolean;
}

export type Fate = 'good' | 'lost' | 'open';

/** Rails of one clear span: those cut, from the left, then those still to be cut. */
export interface CutLane {
  readonly from: Um;
  readonly to: Um;
  readonly gone: readonly ShopRail[];
  readonly open: readonly ShopRail[];
}

export interface ShopStick {
  /** The run of the plan it is cut in. */
  readonly run: number;
  readonly name: string;
  readonly source: Source;
  readonly lanes: readonly CutLane[];
  /** Nothing has been cut from it. */
  readonly whole: boolean;
}

export interface ShopState {
  readonly task: MouldingTask;
  readonly sticks: readonly ShopStick[];
  /** Ids of those lost now. */
  readonly lost: ReadonlySet<string>;
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
  const clear = clearSpans({ ...entry, length }, task.moulding, task.spacing.recut);
  const { ends, flaws } = entry ?? { ends: RAW_ENDS, flaws: [] };
  return { source, ref, length, ends, flaws, clear, lanes: lanesOf(clear, task.spacing), copies: null };
}

function lanesWith(
  source: Source,
  rails: readonly ShopRail[],
  isCut: (rail: ShopRail) => boolean,
): readonly CutLane[] {
  const sorted = rails.toSorted((a, b) => a.start - b.start);
  return source.clear.map((clear, i) => {
    const next = source.clear[i + 1]?.from ?? Number.POSITIVE_INFINITY;
    const own = sorted.filter(({ start }) => start >= clear.from && start < next);
    const lane = source.lanes[i] ?? clear;
    return { ...lane, gone: own.filter(isCut), open: own.filter((rail) => !isCut(rail)) };
  });
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
  const sticks = part.sticks.map((stick): ShopStick => {
    const source = sourceOf(task, stick, stick.source === 'rack' ? entries.get(stick.ref) : undefined);
    const gone = new Set([
      ...stick.cut.map((rail) => railOf(rail, lost.has(rail.rail))),
      ...stick.lost.map((rail) => railOf(rail, true)),
      ...stick.rails.filter(({ rail }) => cut.has(rail)).map((rail) => railOf(rail, lost.has(rail.rail))),
    ]);
    const open = stick.rails.filter(({ rail }) => !cut.has(rail)).map((rail) => railOf(rail, false));
    const lanes = lanesWith(source, [...gone, ...open], (rail) => gone.has(rail));
    return { run: stick.run ?? 1, name: stick.stick, source, lanes, whole: gone.size === 0 };
  });
  const bought = work.bought
    .filter((purchase) => purchase.moulding === moulding)
    .map(({ offer, count }) => [offer, count] as const);
  return { task, sticks, lost, bought: new Map(bought) };
}

export interface Home {
  readonly stick: number;
  readonly lane: number;
  readonly rail: ShopRail;
}

/** The stick each rail is on now. For a replaced rail, not the stick on which it was lost. */
export function homesOf(standing: ShopState): ReadonlyMap<string, Home> {
  const homes = new Map<string, Home>();
  standing.sticks.forEach(({ lanes }, stick) => {
    lanes.forEach((lane, l) => {
      for (const rail of [...lane.gone, ...lane.open]) {
        const before = homes.get(rail.id);
        if (before === undefined || before.rail.dead) homes.set(rail.id, { stick, lane: l, rail });
      }
    });
  });
  return homes;
}
