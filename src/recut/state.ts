/** How things stand in the shop: a plan, part of it cut, some of that lost. Lengths are micrometres. */
import { umFromMm } from '../lengths/units.js';
import type { PlacedRail, Plan, PlannedStick, PlannedStop } from '../plan/types.js';
import { sidesOf } from '../rails/rails.js';
import { clearSpans, lanesOf } from '../stock/lanes.js';
import { ordersOf } from '../stock/orders.js';
import { taskOf } from '../stock/problem.js';
import type { MouldingTask, Source } from '../stock/task.js';
import type { Batch, FrameLine, Um } from '../terms.js';

export interface Rail {
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
}

export type Fate = 'good' | 'lost' | 'open';

/** Rails of one clear span: those cut, from the left, then those still to be cut. */
export interface Lane {
  readonly from: Um;
  readonly to: Um;
  readonly gone: readonly Rail[];
  readonly open: readonly Rail[];
}

export interface Stick {
  readonly name: string;
  readonly source: Source;
  readonly lanes: readonly Lane[];
  /** Nothing has been cut from it. */
  readonly whole: boolean;
}

export interface Standing {
  readonly task: MouldingTask;
  readonly sticks: readonly Stick[];
  /** Ids of the lost. */
  readonly lost: ReadonlySet<string>;
  /** Offer ids to pieces bought so far. */
  readonly bought: ReadonlyMap<string, number>;
}

/** Rail ids in the order of the plan's cuts, moulding by moulding. */
export function cuttingOrder(plan: Plan): readonly string[] {
  return plan.mouldings.flatMap(({ stops }) =>
    stops.flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
  );
}

function stopsByRail(stops: readonly PlannedStop[]): ReadonlyMap<string, PlannedStop> {
  return new Map(
    stops.flatMap((stop) => stop.pairs.flatMap(({ rails }) => rails.map((rail) => [rail, stop] as const))),
  );
}

export function lineNames(batch: Batch): ReadonlyMap<string, FrameLine> {
  return new Map(batch.frames.map((line) => [line.id, line]));
}

export function lineOf(frame: string): string {
  return frame.slice(0, frame.lastIndexOf('/'));
}

function sourceOf(batch: Batch, task: MouldingTask, stick: PlannedStick): Source {
  const entry = stick.source === 'rack' ? batch.sticks.find(({ id }) => id === stick.ref) : undefined;
  const length = umFromMm(stick.length);
  const clear = clearSpans(length, task.moulding, entry?.flaws ?? []);
  return {
    source: stick.source,
    ref: stick.ref,
    length,
    clear,
    lanes: lanesOf(clear, task.spacing),
    copies: null,
  };
}

function lanesWith(source: Source, rails: readonly Rail[], isCut: (rail: Rail) => boolean): readonly Lane[] {
  const sorted = rails.toSorted((a, b) => a.start - b.start);
  return source.clear.map((clear, i) => {
    const next = source.clear[i + 1]?.from ?? Number.POSITIVE_INFINITY;
    const own = sorted.filter(({ start }) => start >= clear.from && start < next);
    const lane = source.lanes[i] ?? clear;
    return { ...lane, gone: own.filter(isCut), open: own.filter((rail) => !isCut(rail)) };
  });
}

/** One moulding of a plan that holds, `cut` of it cut; null when nothing of it is ordered. */
export function standingOf(
  batch: Batch,
  plan: Plan,
  moulding: string,
  cut: ReadonlySet<string>,
  lost: ReadonlySet<string>,
): Standing | null {
  const order = ordersOf(batch).get(moulding);
  const task = order === undefined ? null : taskOf(batch, order);
  const part = plan.mouldings.find((one) => one.moulding === moulding);
  if (task === null || part === undefined) return null;
  const lines = lineNames(batch);
  const stops = stopsByRail(part.stops);
  const kindOf = new Map(task.spacing.mitres.map((mitre, kind) => [mitre.sides, kind]));
  const railOf = (placed: PlacedRail): Rail => {
    const line = lines.get(lineOf(placed.frame));
    const stop = stops.get(placed.rail);
    if (line === undefined || stop === undefined) throw new RangeError(`${placed.rail} is not of this batch`);
    return {
      id: placed.rail,
      frame: placed.frame,
      line,
      side: placed.side,
      length: umFromMm(placed.length),
      kind: kindOf.get(sidesOf(line)) ?? 0,
      start: umFromMm(placed.start),
      flipped: placed.flipped,
      setting: umFromMm(stop.setting),
      second: stop.second === null ? null : umFromMm(stop.second),
    };
  };
  const sticks = part.sticks.map((stick): Stick => {
    const source = sourceOf(batch, task, stick);
    const lanes = lanesWith(source, stick.rails.map(railOf), (rail) => cut.has(rail.id));
    return { name: stick.stick, source, lanes, whole: lanes.every((lane) => lane.gone.length === 0) };
  });
  const bought = plan.buy
    .filter((purchase) => purchase.moulding === moulding)
    .map(({ offer, count }) => [offer, count] as const);
  return { task, sticks, lost, bought: new Map(bought) };
}
