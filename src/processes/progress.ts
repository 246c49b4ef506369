/** How far a batch has got, for people and programs. */
import type { PlanProof } from '../documents/plan/types.js';

export type MouldingState = 'waiting' | 'solving' | 'done' | 'failed';

export interface MouldingProgress {
  readonly moulding: string;
  readonly state: MouldingState;
  /** Of the best plan so far; null: none yet. */
  readonly proof: PlanProof | null;
  /** Frames in that plan, and frames ordered. */
  readonly frames: number;
  readonly ordered: number;
}

export interface ValueAndBound {
  readonly value: number;
  readonly bound: number;
}

export interface BatchProgress {
  readonly mouldings: { readonly total: number; readonly done: number; readonly failed: number };
  /** Mouldings with a plan so far; the figures below are about these. */
  readonly planned: number;
  /** Money, over mouldings with offers; null: none of those is planned. */
  readonly cost: ValueAndBound | null;
  /** Millimetres of rack used, over mouldings without offers. */
  readonly length: ValueAndBound | null;
  /** Largest (value − bound) / value of any planned moulding; null: none is planned. */
  readonly gap: number | null;
  /** Seconds of wall clock since solving began. */
  readonly elapsed: number;
  readonly finish: FinishEstimate;
}

/** Seconds from now. */
export interface FinishEstimate {
  /** Estimated from the mouldings done so far; null until there are any. */
  readonly likely: number | null;
  /**
   * When the time limit ends the search, if nothing interrupts the work or takes the workers. Null when not yet begun, or
   * when that moment is past: interrupted solving still gets its full time.
   */
  readonly latest: number | null;
}

export function gapOf({ value, bound }: ValueAndBound): number {
  return value === 0 ? 0 : Math.max(0, (value - bound) / value);
}

function sumOf(proofs: readonly PlanProof[], measure: PlanProof['measure']): ValueAndBound | null {
  const of = proofs.filter((proof) => proof.measure === measure);
  if (of.length === 0) return null;
  const value = of.reduce((sum, proof) => sum + proof.value, 0);
  const bound = of.reduce((sum, proof) => sum + proof.bound, 0);
  return { value: Number(value.toFixed(3)), bound: Number(bound.toFixed(3)) };
}

export interface TimeUsed {
  /** Seconds since solving began; null: not yet. */
  readonly elapsed: number | null;
  /** Seconds. */
  readonly timeLimit: number;
}

/**
 * The likely finish assumes that the mouldings to come are like those done: those took `elapsed`, so the rest takes its
 * share of that, and never longer than the limit allows.
 */
export function summarise(mouldings: readonly MouldingProgress[], clock: TimeUsed): BatchProgress {
  const count = (state: MouldingState): number => mouldings.filter((one) => one.state === state).length;
  const done = count('done');
  const failed = count('failed');
  const ended = done + failed;
  const total = mouldings.length;
  const proofs = mouldings.flatMap(({ proof }) => (proof === null ? [] : [proof]));
  const { elapsed, timeLimit } = clock;
  const past = elapsed === null || elapsed >= timeLimit;
  const latest = elapsed !== null && ended === total ? 0 : past ? null : timeLimit - elapsed;
  const rate = elapsed === null || ended === 0 ? null : (elapsed / ended) * (total - ended);
  return {
    mouldings: { total, done, failed },
    planned: proofs.length,
    cost: sumOf(proofs, 'cost'),
    length: sumOf(proofs, 'length'),
    gap: proofs.length === 0 ? null : Math.max(...proofs.map(gapOf)),
    elapsed: elapsed ?? 0,
    finish: { likely: rate === null || latest === null ? null : Math.min(rate, latest), latest },
  };
}
