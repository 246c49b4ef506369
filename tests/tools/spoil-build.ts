/**
 * Builds plans by hand for the checker's tests. Nothing here is taken from the program: rails are put where the test
 * says, and the sums are taken over what was put. All lengths are millimetres.
 */
import type {
  MouldingPlan,
  PlacedRail,
  Plan,
  PlannedPair,
  PlannedPurchase,
  PlannedStick,
  PlannedStop,
  PlanProof,
  Remainder,
  Totals,
} from '../../src/documents/plan/types.js';

/** A plan that may be spoiled. */
export type Draft<T> = T extends object ? { -readonly [K in keyof T]: Draft<T[K]> } : T;

export function draft(plan: Plan): Draft<Plan> {
  return structuredClone(plan) as Draft<Plan>;
}

/** Nearest micrometre. */
export function um(mm: number): number {
  return Math.round(mm * 1000) / 1000;
}

/** The next micrometre up; what is within a billionth of one counts as on it. */
export function up(mm: number): number {
  return Math.ceil(mm * 1000 - 1e-6) / 1000;
}

/** `frame id/copy/side` */
export type RailName = string;

function split(name: RailName): { readonly frame: string; readonly side: string } {
  const slash = name.lastIndexOf('/');
  return { frame: name.slice(0, slash), side: name.slice(slash + 1) };
}

/** Rails one after the other, long points `gap` apart; `turn`: every other one is flipped. */
export function row(
  start: number,
  gap: number,
  rails: readonly (readonly [RailName, number])[],
  angle = 45,
  turn = false,
): PlacedRail[] {
  let at = start;
  return rails.map(([rail, length], i) => {
    const placed = { rail, ...split(rail), start: um(at), length, angle, flipped: turn && i % 2 === 1 };
    at += length + gap;
    return placed;
  });
}

/** Where the last of `rails` has its right long point. */
export function endOf(rails: readonly PlacedRail[]): number {
  return Math.max(...rails.map((rail) => rail.start + rail.length));
}

export function stick(
  name: string,
  source: 'rack' | 'offer',
  length: number,
  rails: readonly PlacedRail[],
  left: readonly Remainder[],
): PlannedStick {
  return { stick: name, source, ref: name.slice(0, name.lastIndexOf('/')), length, rails, left };
}

export function remainder(from: number, to: number, use: 'offcut' | 'waste'): Remainder {
  return { from: um(from), to: um(to), use };
}

export function pair(...rails: readonly RailName[]): PlannedPair {
  return { frame: split(rails[0] ?? '').frame, rails };
}

export function stop(
  setting: number,
  pairs: readonly PlannedPair[],
  more: { readonly second?: number; readonly gauge?: string } = {},
): PlannedStop {
  return { setting, second: more.second ?? null, gauge: more.gauge ?? null, pairs };
}

export function moulding(
  name: string,
  proof: PlanProof,
  sticks: readonly PlannedStick[],
  stops: readonly PlannedStop[],
): MouldingPlan {
  return { moulding: name, status: 'complete', proof, sticks, stops };
}

/** The plan around its mouldings. Of the totals the caller gives what needs the trade's rules; the rest are sums. */
export function planOf(
  batch: string,
  units: 'in' | 'mm',
  mouldings: readonly MouldingPlan[],
  buy: readonly PlannedPurchase[],
  given: Pick<Totals, 'railLength' | 'stopSettings' | 'cuts'>,
): Plan {
  const sticks = mouldings.flatMap((part) => part.sticks);
  const sum = (lengths: readonly number[]) => um(lengths.reduce((all, length) => all + length, 0));
  const stockLength = sum(sticks.map((one) => one.length));
  const offcuts = sticks.flatMap((one) => one.left.filter((left) => left.use === 'offcut'));
  const offcutLength = sum(offcuts.map((left) => left.to - left.from));
  return {
    schema: 'pairstop/plan@1',
    batch,
    units,
    status: 'complete',
    mouldings,
    buy,
    totals: {
      sticks: sticks.length,
      stockLength,
      offcutLength,
      wasteLength: um(stockLength - offcutLength - given.railLength),
      yield: given.railLength / stockLength,
      cost: sum(buy.map((purchase) => purchase.cost)),
      ...given,
    },
    shortfall: [],
    notices: [],
  };
}
