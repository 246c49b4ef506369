/** What is being cut: a plan, or the recut of one after an earlier mishap. Lengths are millimetres, as in the documents. */
import type { PlacedRail, Plan, PlannedStop } from '../plan/types.js';
import type { FoundFlaw, OfferCount, Recut, ReusedPiece } from './types.js';

export interface WorkStick {
  readonly stick: string;
  readonly source: 'rack' | 'offer';
  readonly ref: string;
  readonly length: number;
  /** The run of the plan it is cut in. */
  readonly run?: number | undefined;
  /** Found at the saw, besides those of the batch. */
  readonly flaws: readonly FoundFlaw[];
  /** Good rails cut before, and wood lost before. */
  readonly cut: readonly PlacedRail[];
  readonly lost: readonly PlacedRail[];
  /** To be cut. */
  readonly rails: readonly PlacedRail[];
}

export interface WorkPart {
  readonly moulding: string;
  readonly sticks: readonly WorkStick[];
  readonly stops: readonly PlannedStop[];
}

export interface WorkInHand {
  readonly batch: string;
  readonly mouldings: readonly WorkPart[];
  readonly bought: readonly OfferCount[];
  /** Spoiled rails whose wood is used again, as pieces of their own. */
  readonly reused: readonly ReusedPiece[];
  /** Frames the plan could not make from the start. */
  readonly unmade: number;
}

export function workOfPlan(plan: Plan): WorkInHand {
  return {
    batch: plan.batch,
    mouldings: plan.mouldings.map(({ moulding, sticks, stops }) => ({
      moulding,
      sticks: sticks.map((stick) => ({ ...stick, flaws: [], cut: [], lost: [] })),
      stops,
    })),
    bought: plan.buy.map(({ moulding, offer, count }) => ({ moulding, offer, count })),
    reused: [],
    unmade: plan.shortfall.reduce((sum, { frames }) => sum + frames.length, 0),
  };
}

function summed(all: readonly OfferCount[]): readonly OfferCount[] {
  const counts = new Map<string, OfferCount>();
  for (const { moulding, offer, count } of all) {
    counts.set(offer, { moulding, offer, count: count + (counts.get(offer)?.count ?? 0) });
  }
  return [...counts.values()];
}

export function workOfRecut(recut: Recut): WorkInHand {
  return {
    batch: recut.batch,
    mouldings: recut.mouldings.map(({ moulding, sticks, stops }) => ({
      moulding,
      sticks: sticks.map((stick) => ({ ...stick, flaws: stick.flaws ?? [] })),
      stops,
    })),
    bought: summed([...recut.bought, ...recut.buy]),
    reused: recut.reused ?? [],
    unmade: 0,
  };
}

/** Rail ids in the order of the cuts to come, moulding by moulding. */
export function cuttingOrder(work: {
  readonly mouldings: readonly { readonly stops: readonly PlannedStop[] }[];
}): readonly string[] {
  return work.mouldings.flatMap(({ stops }) =>
    stops.flatMap(({ pairs }) => pairs.flatMap(({ rails }) => rails)),
  );
}
