/** How much handling a moulding's plan takes, counted from the plan itself. */
import { railId } from '../documents/ids.js';
import type { HandlingFigures, PlannedStick, PlannedStop } from '../documents/plan/types.js';
import { stickOfRail, visitsAt } from './sawing/hours.js';

function layoutOf({ length, rails }: PlannedStick): string {
  return `${length} ${rails.map((rail) => `${rail.start}+${rail.length}/${rail.angle}${rail.flipped ? 'f' : ''}`).join(' ')}`;
}

/** The side that faces `side`, where the frame has `sides`; null where none does. */
function facing(side: string, sides: number): string | null {
  switch (side) {
    case 'top':
      return 'bottom';
    case 'right':
      return 'left';
    case 'bottom':
    case 'left':
      return null;
    default: {
      const at = Number(side.slice('side'.length));
      return sides % 2 === 0 && at <= sides / 2 ? `side${at + sides / 2}` : null;
    }
  }
}

function splitPairs(sticks: readonly PlannedStick[], stickOf: ReadonlyMap<string, number>): number {
  let split = 0;
  sticks.forEach(({ rails }, stick) => {
    for (const { frame, side, angle } of rails) {
      const other = facing(side, Math.round(180 / angle));
      if (other !== null && stickOf.get(railId(frame, other)) !== stick) split += 1;
    }
  });
  return split;
}

export function handlingOf(sticks: readonly PlannedStick[], stops: readonly PlannedStop[]): HandlingFigures {
  const stickOf = stickOfRail(sticks);
  return {
    visits: stops.reduce((sum, stop) => sum + visitsAt(stop, stickOf), 0),
    layouts: new Set(sticks.map(layoutOf)).size,
    splitPairs: splitPairs(sticks, stickOf),
    offcuts: sticks.reduce((sum, { left }) => sum + left.filter(({ use }) => use === 'offcut').length, 0),
  };
}

export const NO_HANDLING: HandlingFigures = { visits: 0, layouts: 0, splitPairs: 0, offcuts: 0 };
