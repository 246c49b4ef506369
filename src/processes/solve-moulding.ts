/** One moulding in a solver process, its time kept from outside. */
import { PairstopError } from '../errors.js';
import type { RackPiece } from '../rack/terms.js';
import { answerOf, READ_MS } from './solver/answer.js';
import type { SolverPool } from './solver/pool.js';
import type { BatchSource, Improved, SealedPart, SolveTask, WorkKind } from './solver/tasks.js';

export interface MouldingRequest {
  /** By default a plan. */
  readonly work?: WorkKind;
  /** Key of the batch, and the batch itself for a process that does not hold it. */
  readonly key: string;
  readonly source: () => BatchSource | Promise<BatchSource>;
  readonly moulding: string;
  /** Asked when a process is free: milliseconds of solving. */
  readonly budget: () => number;
  /** Asked after it: whether only the wood is searched for. */
  readonly woodOnly?: () => boolean;
  /** Milliseconds the solve may overrun that before its process is killed. */
  readonly grace?: number;
  /** What is free on the shop's rack, where the batch is planned from it. */
  readonly rack?: readonly RackPiece[];
  /** The best part of an earlier run. */
  readonly start: SealedPart | null;
  /** For its figures only: nobody cuts it. */
  readonly brisk?: boolean;
  /** Small enough for the processes kept for small tasks. */
  readonly small?: boolean;
  readonly signal?: AbortSignal | undefined;
  readonly onImproved?: (improved: Improved) => void;
  /** The batch has been read, and the budget begins. */
  readonly onRead?: () => void;
}

/** `cut`: the process had to be killed at the limit, and this is the best it had sent. */
export interface MouldingAnswer {
  readonly part: SealedPart;
  readonly cut: boolean;
}

/** How far a solve may overrun its budget before it is killed; `A_RAIL_MS` more for each rail. */
export const GRACE_MS = 1_000;
/** The same for a comparison, which lays out the plans it found at the end. */
const LAY_OUT_MS = 30_000;
/** First fit lays out a million rails in a third of this time; on a machine under load a fresh process is slow to start. */
const QUICK_MS = 30_000;
/**
 * Laying out, sealing and checking take as long as there are rails, whatever the time limit; measured, see DEVELOPERS.md.
 * Some ten times what it takes, since a solver yields to whatever else the machine does.
 */
export const A_RAIL_MS = 0.5;
/** Its runs and pairs are searched for only so long: by then the time is over. The least, and a share of the budget. */
const QUICK_LEAST_MS = 250;
const QUICK_SHARE = 0.1;

export function cancelled(signal: AbortSignal): PairstopError {
  return signal.reason instanceof PairstopError
    ? signal.reason
    : new PairstopError('PS_CANCELLED', 'the batch has been cancelled');
}

function died(moulding: string, reason: string): PairstopError {
  return new PairstopError(
    'PS_SOLVER',
    `the solver process of moulding ${JSON.stringify(moulding)} died: ${reason}`,
  );
}

/** The plan of last resort, from a fresh process that loads nothing that hung. */
async function quick(
  pool: Pick<SolverPool, 'run'>,
  request: MouldingRequest,
  spent: number,
): Promise<SealedPart> {
  const { key, moulding, signal, small = false, work = 'plan', rack = [] } = request;
  const outcome = await pool.run(
    async (holds) => {
      const batch = { key, source: holds ? null : await request.source() };
      const task = {
        kind: 'solve',
        work,
        batch,
        moulding,
        budget: work === 'plan' ? Math.max(QUICK_LEAST_MS, QUICK_SHARE * spent) : QUICK_MS,
        effort: 'quick',
        start: null,
        rack,
      } as const;
      return { task, limit: QUICK_MS, aRail: A_RAIL_MS, reading: holds ? 0 : READ_MS };
    },
    { key, small, signal },
  );
  return answerOf(outcome, {
    died: (reason) => died(moulding, reason),
    late: (limit) => died(moulding, `no plan in ${Math.round(limit / 1_000)} s after the time limit`),
    aborted: () => cancelled(signal ?? AbortSignal.abort()),
  });
}

/**
 * Throws PS_SOLVER when the process dies, PS_CANCELLED (or the signal's own error) when the signal comes, and
 * whatever the planner refuses.
 */
export async function solveMoulding(
  pool: Pick<SolverPool, 'run'>,
  request: MouldingRequest,
): Promise<MouldingAnswer> {
  const {
    key,
    moulding,
    start,
    signal,
    grace = GRACE_MS,
    brisk = false,
    onImproved,
    onRead,
    small = false,
    work = 'plan',
    rack = [],
  } = request;
  let best = start;
  let budget = 0;
  const outcome = await pool.run(
    async (holds) => {
      const batch = { key, source: holds ? null : await request.source() };
      budget = Math.max(0, request.budget());
      const from = start?.sealed ?? null;
      const task = {
        kind: 'solve',
        work,
        batch,
        moulding,
        budget,
        effort: 'full',
        brisk,
        woodOnly: request.woodOnly?.() === true,
        start: from,
        rack,
      } as const;
      const limit = budget + (work === 'plan' ? grace : LAY_OUT_MS);
      return { task, limit, aRail: A_RAIL_MS, reading: holds ? 0 : READ_MS };
    },
    {
      key,
      small,
      signal,
      ...(onRead && { onRead }),
      onImproved: (improved) => {
        if (improved.sealed !== null) best = { ...improved, sealed: improved.sealed };
        onImproved?.(improved);
      },
    },
  );
  if (outcome.kind === 'late') return { part: best ?? (await quick(pool, request, budget)), cut: true };
  const part = answerOf<SolveTask>(outcome, {
    died: (reason) => died(moulding, reason),
    aborted: () => cancelled(signal ?? AbortSignal.abort()),
  });
  return { part, cut: false };
}
