/** What of a plan is packed two by two (`doubled.ts`), and how: the less is packed so, the seldomer stops are set. */
import { type DoubledStick, packDoubled, packHalf } from './doubled.js';
import { type Lot, type PackedLot, together } from './lot.js';
import type { LotPacking, Thorough } from './pack.js';
import type { PlanLots } from './plan-lots.js';
import type { SharedOut } from './share.js';

export interface TwoByTwo {
  /** Lots that stay as they are. */
  readonly lots: readonly PackedLot[];
  readonly sticks: readonly DoubledStick[];
}

/** What could not be shared out, with the last lots as long as it takes; all of a plan where no lots are given. */
function byPacking(plan: PlanLots, { lots, left }: SharedOut, packing: LotPacking): TwoByTwo | null {
  let rest = left;
  for (let own = lots; rest !== null && own.length > 0 && !packing.stopped(); own = own.slice(0, -1)) {
    const sticks = packHalf(plan.task, rest, packing);
    if (sticks !== null) return { lots: own, sticks };
    rest = together(rest, own.at(-1)!);
  }
  const sticks = packDoubled(plan, packing);
  return sticks && { lots: [], sticks };
}

/** By packing, and where that fails `thorough`: what could not be shared out, then `all`. Null where nothing was found. */
export function twoByTwo(
  plan: PlanLots,
  open: SharedOut,
  all: Lot,
  packing: LotPacking,
  thorough: Thorough | null,
): TwoByTwo | null {
  const packed = byPacking(plan, open, packing);
  if (packed !== null || thorough === null) return packed;
  const { lots, left } = open;
  const rest = left && lots.length > 0 ? packHalf(plan.task, left, { ...packing, thorough }) : null;
  if (rest !== null) return { lots, sticks: rest };
  const sticks = packHalf(plan.task, all, { ...packing, thorough });
  return sticks && { lots: [], sticks };
}
