/** Plans a batch on this machine, its mouldings side by side in solver processes, without a queue. */

import { randomUUID } from 'node:crypto';
import { setMaxListeners } from 'node:events';
import { availableParallelism } from 'node:os';
import type { Plan } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import { refuseShopRack, refuseUncuttable } from '../stock/refusals.js';
import { ResolvedBatch } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { planOfOwn } from './documents.js';
import { type BatchProgress, type MouldingProgress, summarise } from './progress.js';
import {
  firstRound,
  LEAST_TURN_MS,
  leftBeside,
  nextRound,
  type Round,
  SharedTime,
  type SolvingTurn,
  solvingTime,
  woodMayComeFirst,
  worthAnother,
} from './share.js';
import { cancelled, solveMoulding } from './solve-moulding.js';
import { ASSEMBLE_MS, assembledOf } from './solver/answer.js';
import { SOLVER_ENTRY } from './solver/entry.js';
import { limitsFor } from './solver/memory.js';
import { type PoolSettings, SolverPool } from './solver/pool.js';
import type { BatchSource, Improved, SealedPart } from './solver/tasks.js';
import type { Turnstile } from './solver/turnstile.js';

export interface PlanBatchOptions {
  /** Ends the work at once; the promise rejects with PS_CANCELLED or the signal's own PairstopError. */
  readonly signal?: AbortSignal;
  /** Called at each improvement, at most ten times a second for each moulding being solved. */
  readonly onProgress?: (progress: BatchProgress) => void;
  /** Solver processes at a time; by default as many as there are processors. */
  readonly processes?: number;
}

/** A batch that is planned beside another one, in the same processes and the same time, for its figures only. */
export interface PlanBesideOptions extends Pick<PlanBatchOptions, 'signal'> {
  readonly time: SharedTime;
  /** So many mouldings of both at once: more would only take the processors from each other. */
  readonly turns: Turnstile;
  /** Milliseconds a solve may overrun before its process is killed. */
  readonly grace: number;
}

const MS = 1000;
/** Share of the machine's memory that all solver processes together may take. */
const MEMORY_SHARE = 0.8;
/** The first death of a process may be the system's doing; a second is put down to the moulding. */
const ATTEMPTS = 2;

export function localPool(size: number): PoolSettings {
  const limits = limitsFor(size, MEMORY_SHARE);
  return { entry: SOLVER_ENTRY, size, ...limits, nice: 0, recycleAfter: Number.POSITIVE_INFINITY };
}

/** Another turn is not worth beginning any more. */
const TOO_LATE = new PairstopError('PS_CANCELLED', 'no time is left');

interface SolvedPart {
  readonly part: SealedPart;
  /** Milliseconds. */
  readonly allotted: number;
  readonly used: number;
}

class LocalBatchRun {
  readonly #batch: Batch;
  readonly #key = randomUUID();
  readonly #source: BatchSource;
  readonly #pool: SolverPool;
  readonly #options: PlanBatchOptions;
  readonly #beside: PlanBesideOptions | null;
  #began: number | null = null;
  readonly #progress: Map<string, MouldingProgress>;

  constructor(
    batch: Batch,
    pool: SolverPool,
    options: PlanBatchOptions,
    beside: PlanBesideOptions | null = null,
  ) {
    this.#batch = batch;
    this.#source = { kind: 'batch', batch };
    this.#pool = pool;
    this.#options = options;
    this.#beside = beside;
    this.#progress = new Map(
      batch.mouldings.map(({ id }) => [
        id,
        { moulding: id, state: 'waiting', proof: null, frames: 0, ordered: 0 },
      ]),
    );
  }

  async plan(): Promise<Plan> {
    const parts = new Map<string, SolvedPart>();
    const ids = this.#batch.mouldings.map(({ id }) => id);
    const beside = this.#beside?.time;
    const all = solvingTime(this.#batch);
    const slots = Math.min(this.#pool.size, ids.length);
    const woodFirst = beside === undefined && woodMayComeFirst(this.#batch);
    let round: Round | null = firstRound(all, ids.length, slots, woodFirst);
    await this.#round(ids, parts, beside ?? this.#timeFor(ids, round));
    for (let rounds = 0; round !== null; rounds++) {
      const open = ids.filter((id) => {
        const solved = parts.get(id);
        return solved !== undefined && worthAnother(solved.part.proof, solved.allotted, solved.used);
      });
      const passed = performance.now() - (this.#began ?? 0);
      if (beside === undefined) {
        const full = ids.filter((id) => parts.get(id)?.part.overfull === true);
        const again = round.phase === 'runs' ? full : ids;
        round = nextRound(round.phase, { all, passed, rounds, open: open.length, overfull: full.length });
        const some = round?.phase === 'runs' ? again : open;
        if (round !== null) await this.#round(some, parts, this.#timeFor(some, round));
      } else {
        if (open.length === 0 || leftBeside(beside, rounds) === 0) break;
        for (const _ of open) beside.again();
        await this.#round(open, parts, beside);
      }
    }
    return this.#assemble(ids.flatMap((id) => parts.get(id)?.part ?? []));
  }

  #timeFor(ids: readonly string[], { limit, phase }: Round): SharedTime {
    const slots = Math.min(this.#pool.size, ids.length);
    return new SharedTime({ limit, waiting: ids.length, slots, phase, now: () => performance.now() });
  }

  async #assemble(parts: readonly SealedPart[]): Promise<Plan> {
    const { signal } = this.#options;
    const key = this.#key;
    const outcome = await this.#pool.run(
      (holds) => {
        const batch = { key, source: holds ? null : this.#source };
        const task = { kind: 'assemble', work: 'plan', batch, parts, rack: [], failed: [] } as const;
        return { task, limit: ASSEMBLE_MS };
      },
      { key, signal, small: this.#beside !== null },
    );
    const { sealed } = assembledOf(outcome, () => cancelled(signal ?? AbortSignal.abort()));
    return planOfOwn(key, sealed);
  }

  /** Solves these mouldings; the first failure ends the others. */
  async #round(ids: readonly string[], parts: Map<string, SolvedPart>, time: SharedTime): Promise<void> {
    const stop = new AbortController();
    const { signal } = this.#options;
    const both = AbortSignal.any(signal === undefined ? [stop.signal] : [signal, stop.signal]);
    // One listener a moulding is no leak.
    setMaxListeners(0, both);
    const turns = this.#beside?.turns;
    const all = ids.map(async (id) => {
      if (turns !== undefined && !(await turns.enter(true, both))) throw cancelled(both);
      try {
        parts.set(id, await this.#part(id, time, parts.get(id)?.part ?? null, both));
      } finally {
        turns?.leave(true);
      }
    });
    try {
      await Promise.all(all);
    } catch (error) {
      stop.abort(error);
      await Promise.allSettled(all);
      throw error;
    }
  }

  async #part(
    moulding: string,
    time: SharedTime,
    start: SealedPart | null,
    signal: AbortSignal,
  ): Promise<SolvedPart> {
    let best = start;
    const onImproved = (improved: Improved): void => {
      if (improved.sealed !== null) best = { ...improved, sealed: improved.sealed };
      this.#tell(moulding, improved);
    };
    for (let attempt = 1; ; attempt++) {
      let part: SealedPart | null = null;
      let turn: SolvingTurn | null = null;
      try {
        const budget = (): number => {
          if (turn !== null) {
            // The process it was for never began.
            turn.end();
            time.again();
          }
          turn = time.begin();
          if (this.#beside !== null && start !== null && turn.share < LEAST_TURN_MS) throw TOO_LATE;
          this.#began ??= performance.now();
          this.#tell(moulding, { state: 'solving' });
          return turn.share;
        };
        ({ part } = await solveMoulding(this.#pool, {
          key: this.#key,
          source: () => this.#source,
          moulding,
          budget,
          woodOnly: () => turn?.woodOnly === true,
          ...(this.#beside !== null && { grace: this.#beside.grace, small: true, brisk: true }),
          start: best,
          signal,
          onImproved,
          onRead: () => turn?.restart(),
        }));
        this.#tell(moulding, { ...part, state: 'done' });
      } catch (error) {
        if (error === TOO_LATE && start !== null) part = start;
        const again = error instanceof PairstopError && error.code === 'PS_SOLVER' && attempt < ATTEMPTS;
        if (part === null && !again) throw error;
        if (part === null) time.again();
      }
      const taken = turn as SolvingTurn | null;
      const used = taken?.end() ?? 0;
      if (part !== null) return { part, allotted: taken?.share ?? 0, used };
    }
  }

  #tell(moulding: string, news: Partial<MouldingProgress>): void {
    const known = this.#progress.get(moulding);
    if (known === undefined) return;
    const { state = known.state, proof = known.proof } = news;
    const { frames = known.frames, ordered = known.ordered } = news;
    this.#progress.set(moulding, { moulding, state, proof, frames, ordered });
    this.#options.onProgress?.(
      summarise([...this.#progress.values()], {
        elapsed: this.#began === null ? null : (performance.now() - this.#began) / MS,
        timeLimit: this.#batch.options.timeLimit,
      }),
    );
  }
}

/** In processes that are there already; whoever has them has refused what no stick can hold. */
export function planWith(pool: SolverPool, batch: Batch, options: PlanBatchOptions): Promise<Plan> {
  return new LocalBatchRun(batch, pool, options).plan();
}

/** Likewise, beside another batch. */
export function planBeside(pool: SolverPool, batch: Batch, options: PlanBesideOptions): Promise<Plan> {
  return new LocalBatchRun(batch, pool, options, options).plan();
}

/**
 * The plan of a batch within its time limit, checked before it is returned.
 * Throws PS_BATCH for frames no stick can hold, PS_SOLVER when a solver process cannot live, PS_CANCELLED.
 */
export async function planBatch(batch: Batch, options: PlanBatchOptions = {}): Promise<Plan> {
  refuseShopRack(batch);
  refuseUncuttable(new ResolvedBatch(batch));
  const wanted = options.processes ?? availableParallelism();
  const pool = new SolverPool(localPool(Math.max(1, Math.min(wanted, batch.mouldings.length))));
  try {
    return await new LocalBatchRun(batch, pool, options).plan();
  } finally {
    await pool.close();
  }
}
