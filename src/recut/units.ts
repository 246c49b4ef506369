/** Which of the rails not yet cut must stay together, and what replaces the lost ones. */
import { orderedSides, sidesOf } from '../rails/rails.js';
import { railWeight } from '../stock/spacing.js';
import type { CutItem, Spacing } from '../stock/task.js';
import type { FrameLine } from '../terms.js';
import type { ShopRail } from './room.js';
import { type Fate, type Home, homesOf, type ShopState } from './state.js';

/** Rails that lie side by side on one stick. */
export interface RailUnit {
  readonly rails: readonly ShopRail[];
  /** Index of the stick all its rails are still on; −1 for one that holds a lost rail. */
  readonly home: number;
}

export interface SortedUnits {
  /** The rest of begun pairs and rings: cut first, where it lies. By stick, then lane. */
  readonly pinned: readonly (readonly (readonly ShopRail[])[])[];
  /** Units not begun, in place as planned. */
  readonly kept: readonly RailUnit[];
  /** Units with lost rails in them, or with rails that a flaw leaves no place for. */
  readonly groups: readonly RailUnit[];
  /** Frames whose match cannot be kept: part of a pair or ring is cut, another part lost. */
  readonly broken: readonly { readonly frame: string; readonly lost: readonly string[] }[];
}

/** The sides of a frame in the order of the ring. */
export function ringOf(line: FrameLine): readonly string[] {
  if (line.shape.kind === 'rectangle') return ['top', 'right', 'bottom', 'left'];
  return orderedSides(line).flatMap(({ sides }) => sides);
}

/** Sides that face a side: none in a ring with an odd number of them. */
export function facing(line: FrameLine, side: string): string | null {
  const ring = ringOf(line);
  return ring.length % 2 === 0 ? (ring[(ring.indexOf(side) + ring.length / 2) % ring.length] ?? null) : null;
}

/** Sides of one frame that belong on one stick, in order; null: each side is on its own. */
function bundles(line: FrameLine): readonly (readonly string[])[] {
  const ring = ringOf(line);
  if (line.match === 'frame') return [ring];
  if (line.match === 'pair' && sidesOf(line) % 2 === 0) {
    return ring.slice(0, ring.length / 2).map((side) => [side, facing(line, side) ?? side]);
  }
  return ring.map((side) => [side]);
}

/** Neighbours in the ring, none of which is cut and good. */
function runs(rails: readonly ShopRail[], fate: (rail: ShopRail) => Fate): readonly (readonly ShopRail[])[] {
  const found: ShopRail[][] = [];
  let last = false;
  for (const rail of rails) {
    const good = fate(rail) === 'good';
    if (!good && last) found.at(-1)?.push(rail);
    else if (!good) found.push([rail]);
    last = !good;
  }
  return found;
}

/** Whether these are the next rails of their lane: only then do they follow the rails already cut. */
function begins(standing: ShopState, { stick, lane }: Home, run: readonly ShopRail[]): boolean {
  const { open } = standing.sticks[stick]!.lanes[lane]!;
  return run.every((rail) => open.indexOf(rail) < run.length);
}

/** Ids of rails that a flaw leaves no place for where they were planned. */
export function displacedRails({ sticks }: ShopState): ReadonlySet<string> {
  return new Set(sticks.flatMap(({ displaced }) => displaced.map(({ id }) => id)));
}

/** In the order the frames are first met on the sticks. */
export function sortOut(standing: ShopState): SortedUnits {
  const places = homesOf(standing);
  const frames = new Map<string, Map<string, ShopRail>>();
  for (const { rail } of places.values()) {
    const frame = frames.get(rail.frame) ?? new Map<string, ShopRail>();
    frames.set(rail.frame, frame.set(rail.side, rail));
  }
  const gone = new Set(standing.sticks.flatMap(({ lanes }) => lanes.flatMap((lane) => lane.gone)));
  const displaced = displacedRails(standing);
  const fate = (rail: ShopRail): Fate =>
    rail.dead ? 'lost' : gone.has(rail) ? 'good' : displaced.has(rail.id) ? 'displaced' : 'open';
  const pinned = standing.sticks.map(({ lanes }) => lanes.map((): ShopRail[] => []));
  const kept: RailUnit[] = [];
  const groups: RailUnit[] = [];
  const broken: { frame: string; lost: string[] }[] = [];
  for (const [frame, sides] of frames) {
    const line = [...sides.values()][0]!.line;
    for (const bundle of bundles(line)) {
      const rails = bundle.flatMap((side) => sides.get(side) ?? []);
      const good = rails.some((rail) => fate(rail) === 'good');
      const again = rails.filter((rail) => fate(rail) === 'lost' || fate(rail) === 'displaced');
      if (good && again.length > 0) broken.push({ frame, lost: again.map((rail) => rail.id) });
      for (const run of runs(rails, fate)) {
        const place = places.get(run[0]!.id)!;
        // A flaw that lies between them parts them too.
        const whole = run.every((rail) => places.get(rail.id)!.lane === place.lane);
        if (!whole || run.some((rail) => again.includes(rail))) groups.push({ rails: run, home: -1 });
        else if (good && begins(standing, place, run)) pinned[place.stick]![place.lane]!.push(...run);
        else kept.push({ rails: run, home: place.stick });
      }
    }
  }
  return { pinned, kept, groups, broken };
}

/** A unit as the engine's item. */
export function itemOf(spacing: Spacing, { rails }: RailUnit): CutItem {
  const settings = rails.map((rail) => rail.length);
  const [longest, shortest] = [Math.max(...settings), Math.min(...settings)];
  const { kind } = rails[0]!;
  return {
    kind,
    settings,
    setting: longest,
    second: shortest < longest ? shortest : null,
    weight: settings.reduce((sum, length) => sum + railWeight(spacing, kind, length), 0),
  };
}

export function keyOf(item: CutItem): string {
  return `${item.kind}/${item.settings.join('+')}`;
}
