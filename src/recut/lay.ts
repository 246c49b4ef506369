/** Turns a choice into sticks with rails in their places, and the stops in the order they are set. */
import { stickId } from '../documents/ids.js';
import type { Shared } from '../layout/shares.js';
import { visitOrder } from '../layout/visits.js';
import type { CutItem } from '../stock/task.js';
import type { Um } from '../terms.js';
import type { RecutChoice } from './choose.js';
import type { FreePiece, PlacedUnit } from './hand-out.js';
import type { CutLane, ShopRail } from './room.js';
import { following } from './room.js';
import { inOrder } from './runs/order.js';
import {
  ANY_RUN,
  begunSticks,
  bundled,
  type Ending,
  endingsOf,
  type LeftToCut,
  runOfStick,
  turnsOf,
  type UnitPlace,
} from './runs/runs.js';
import type { ShopState, ShopStick } from './state.js';
import { itemOf, type SortedUnits } from './units.js';

export interface RelaidStick extends ShopStick {
  /** For each lane, what is to be cut from it, left to right. */
  readonly toCut: readonly (readonly ShopRail[])[];
}

export interface RelaidStop {
  /** Null for what was begun, which is cut before all else. */
  readonly run: number | null;
  readonly setting: Um;
  readonly second: Um | null;
  readonly finish: boolean;
  readonly units: readonly (readonly ShopRail[])[];
}

export interface Relaid {
  readonly sticks: readonly RelaidStick[];
  readonly stops: readonly RelaidStop[];
  /** A lane where rails of unlike angle no longer fit in the order of the stops; null: all fit. */
  readonly crowded: number | null;
}

const NOTHING_FOUND = { found: [], aside: [], displaced: [] } as const;

function newStick(piece: Exclude<FreePiece, { kind: 'stick' }>, copy: number): ShopStick {
  const lanes = piece.source.lanes.map((lane): CutLane => ({ ...lane, gone: [], open: [] }));
  return {
    // Until it is known which run has room for it.
    run: ANY_RUN,
    name: stickId(piece.source.ref, copy),
    source: piece.source,
    ...NOTHING_FOUND,
    lanes,
    whole: true,
  };
}

/** New pieces of an offer take the numbers after those bought; spares keep theirs. */
function piecesOf(standing: ShopState) {
  const sticks: ShopStick[] = [...standing.sticks];
  const known = new Map<string, number>();
  const at = ({ piece, number }: PlacedUnit): number => {
    if (piece.kind === 'stick') return piece.stick;
    const { ref } = piece.source;
    const copy = piece.copies?.[number] ?? (standing.bought.get(ref) ?? 0) + number + 1;
    const key = `${piece.source.source} ${stickId(ref, copy)}`;
    const before = known.get(key);
    if (before !== undefined) return before;
    known.set(key, sticks.length);
    sticks.push(newStick(piece, copy));
    return sticks.length - 1;
  };
  return { sticks, at };
}

function laneOf(stick: ShopStick, rail: ShopRail): number {
  return stick.lanes.findIndex((lane) => lane.open.includes(rail));
}

function sharesOf(targets: readonly UnitPlace[]): Shared {
  return targets.map(({ stick, lane, unit }) => ({ stick, lane, count: unit.rails.length }));
}

/** Begun pairs and rings, at the stops they were begun at. */
function finishing(endings: readonly Ending[]): readonly RelaidStop[] {
  const stops: { run: null; setting: Um; second: Um | null; finish: true; units: (readonly ShopRail[])[] }[] =
    [];
  for (const { rails } of endings) {
    const { setting, second } = rails[0]!;
    const last = stops.at(-1);
    if (last?.setting === setting && last.second === second) last.units.push(rails);
    else stops.push({ run: null, setting, second, finish: true, units: [rails] });
  }
  return stops;
}

/** `bench`: most sticks that may lie begun at once; `order`: of the stops in a run. */
export function lay(
  standing: ShopState,
  sorted: SortedUnits,
  choice: RecutChoice,
  { bench, order }: Pick<LeftToCut, 'bench' | 'order'>,
): Relaid {
  const { spacing } = standing.task;
  const { sticks, at } = piecesOf(standing);
  const targets = choice.placed.map((placed): UnitPlace => {
    const item = itemOf(spacing, placed.unit);
    return { stick: at(placed), lane: placed.lane, unit: placed.unit, item };
  });
  for (const unit of sorted.kept) {
    if (choice.opened.has(unit.home)) continue;
    const lane = laneOf(sticks[unit.home]!, unit.rails[0]!);
    targets.push({ stick: unit.home, lane, unit, item: itemOf(spacing, unit) });
  }
  const endings = endingsOf(sorted.pinned);
  const onLanes = sticks.map((stick) => stick.lanes.map((): { rail: ShopRail; item: CutItem }[] => []));
  const left: LeftToCut = { sticks, targets, endings, bench, order };
  const runOf = runOfStick(left);
  const begun = begunSticks(left);
  const runs = [...new Set(targets.map(({ stick }) => runOf[stick]!))].sort((a, b) => a - b);
  const inTurns = runs.flatMap((run) =>
    inOrder(turnsOf(targets.filter(({ stick }) => runOf[stick] === run)), (stick) => begun[stick]!, order),
  );
  const stops: {
    run: number;
    setting: Um;
    second: Um | null;
    finish: false;
    units: (readonly ShopRail[])[];
  }[] = [];
  for (const turn of inTurns) {
    const bundles = bundled(turn);
    const { setting, second } = turn[0]!.item;
    const run = runOf[turn[0]!.stick]!;
    let stop = stops.at(-1);
    if (stop?.run !== run || stop.setting !== setting || stop.second !== second) {
      stop = { run, setting, second, finish: false, units: [] };
      stops.push(stop);
    }
    for (const i of visitOrder(bundles.map(sharesOf))) {
      stop.units.push(bundles[i]!.flatMap(({ unit }) => unit.rails));
      for (const { stick, lane, unit, item } of bundles[i]!) {
        for (const rail of unit.rails) onLanes[stick]![lane]!.push({ rail, item });
      }
    }
  }
  let crowded: number | null = null;
  const laid = sticks.map((stick, s): RelaidStick => {
    const toCut = stick.lanes.map((lane, l) => {
      const begun = sorted.pinned[s]?.[l] ?? [];
      const head = [...lane.gone, ...begun];
      const rails = onLanes[s]![l]!.map(({ rail }) => rail);
      const places = following(spacing, lane, head, rails);
      const stands = rails.map((rail, i) => ({ ...rail, ...places[i]! }));
      const last = stands.at(-1);
      if (last !== undefined && last.start + last.length > lane.to) crowded ??= s;
      return [...begun, ...stands];
    });
    return { ...stick, run: runOf[s]!, toCut };
  });
  return { sticks: laid, stops: [...finishing(endings), ...stops], crowded };
}
