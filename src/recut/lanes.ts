/** The clear spans of a stick with what has been cut from each, also where a flaw is found that rails lie over already. */
import type { Lane, Source, Spacing } from '../stock/task.js';
import type { Um } from '../terms.js';
import { touches } from './flaws.js';
import { type CutLane, following, type ShopRail } from './room.js';

export interface DividedStick {
  readonly lanes: readonly CutLane[];
  /** Cut, with a flaw in them, and before no lane: only their wood is gone. */
  readonly aside: readonly ShopRail[];
  /** Still to be cut, and no longer possible where they were planned. */
  readonly displaced: readonly ShopRail[];
}

interface OpenLane {
  from: Um;
  to: Um;
  readonly gone: ShopRail[];
  readonly open: ShopRail[];
}

function endOf({ start, length }: ShopRail): Um {
  return start + length;
}

function joint({ mitres, recut }: Spacing): Um {
  return Math.max(...mitres.map(({ blade }) => blade)) + recut;
}

/** The last lane that begins at or before `at`. */
function laneAt(clear: readonly Lane[], at: Um): number {
  return Math.max(
    0,
    clear.findLastIndex(({ from }) => from <= at),
  );
}

/**
 * A rail that was cut with a flaw in it takes its wood out of the lanes it reaches into. Where it ends within one, what
 * comes after it in that lane follows it as it would any other rail.
 */
function withoutSpoiled(
  lanes: readonly OpenLane[],
  spoiled: readonly ShopRail[],
  gap: Um,
): readonly ShopRail[] {
  const aside: ShopRail[] = [];
  for (const rail of spoiled) {
    const end = endOf(rail);
    let headed = false;
    for (const lane of lanes) {
      if (rail.start >= lane.from && rail.start < lane.to) lane.to = Math.max(lane.from, rail.start - gap);
      else if (rail.start < lane.from && end >= lane.to) lane.to = lane.from;
      else if (rail.start < lane.from && end > lane.from) {
        lane.gone.push(rail);
        headed = true;
      } else if (end <= lane.from && end + gap > lane.from) {
        lane.from = end + gap;
        lane.to = Math.max(lane.from, lane.to);
      }
    }
    if (!headed) aside.push(rail);
  }
  for (const { gone } of lanes) gone.sort((a, b) => a.start - b.start);
  return aside;
}

/** `rails`: all that are on the stick, cut or not. `found`: flaws were found on it after it was planned. */
export function divided(
  source: Source,
  spacing: Spacing,
  rails: readonly ShopRail[],
  isCut: (rail: ShopRail) => boolean,
  found: boolean,
): DividedStick {
  const sorted = rails.toSorted((a, b) => a.start - b.start);
  // Where a flaw leaves nothing clear, one empty lane still carries what was cut.
  const clear = source.clear.length === 0 ? [{ from: 0, to: 0 }] : source.clear;
  const lanes = clear.map((span, i): OpenLane => ({ ...(source.lanes[i] ?? span), gone: [], open: [] }));
  const [spoiled, displaced]: [ShopRail[], ShopRail[]] = [[], []];
  for (const rail of sorted) {
    const flawed = touches(source.flaws, rail.start, endOf(rail));
    if (flawed) (isCut(rail) ? spoiled : displaced).push(rail);
    else {
      const lane = lanes[laneAt(clear, rail.start)]!;
      (isCut(rail) ? lane.gone : lane.open).push(rail);
    }
  }
  const aside = withoutSpoiled(lanes, spoiled, joint(spacing));
  // Beside a flaw narrower than the blade the next rail moves on, and the last of its lane may no longer fit.
  for (const lane of found ? lanes : []) {
    const fits = (): boolean => {
      const last = lane.open.at(-1);
      const place = following(spacing, lane, lane.gone, lane.open).at(-1);
      return last === undefined || place === undefined || place.start + last.length <= lane.to;
    };
    while (!fits()) displaced.push(lane.open.pop()!);
  }
  return { lanes, aside, displaced };
}
