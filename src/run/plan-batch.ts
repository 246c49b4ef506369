/** Plans a batch on this machine, its mouldings side by side in solver processes, without a queue. */
import { randomUUID } from 'node:crypto';
import { availableParallelism, totalmem } from 'node:os';
import { PairstopError } from '../errors.js';
import { refuseUncuttable } from '../plan/here.js';
import type { Plan } from '../plan/types.js';
import type { Batch } from '../terms.js';
import { planOf } from './documents.js';
import { SOLVER_ENTRY } from './entry.js';
import { type PoolSettings, SolverPool } from './pool.js';
import { type BatchProgress, type MouldingProgress, summarise } from './progress.js';
import { nextShare } from './share.js';
import { cancelled, solveMoulding } from './solve-moulding.js';
import type { BatchRef, Improved, SealedPart } from './tasks.js';

export interface PlanBatchOptions {
  /** Ends the work at once; the promise rejects with PS_CANCELLED or the signal's own PairstopError. */
  readonly signal?: AbortSignal;
  /** Called at each improvement, at most ten times a second for each moulding being solved. */
  readonly onProgress?: (progress: BatchProgress) => void;
  /** Solver processes at a time; by default as many as there are processors. */
  readonly processes?: number;
}

const MS = 1000;
const MB = 2 ** 20;
/** Share of the machine's memory that all solver processes together may take. */
const MEMORY_SHARE = 0.8;
const HEAP_MOST_MB = 8_192;
/** A process that died may have been the system's choice; a second death is the moulding's own. */
const ATTEMPTS = 2;
/** Laying out and checking a million rails takes about half a minute. */
const ASSEMBLE_MS = 300_000;

function localPool(size: number): PoolSettings {
  const rssMb = Math.max(512, Math.floor((totalmem() * MEMORY_SHARE) / MB / size));
  return {
    entry: SOLVER_ENTRY,
    size,
    heapMb: Math.min(HEAP_MOST_MB, rssMb),
    rssMb,
    nice: 0,
    recycleAfter: Number.POSITIVE_INFINITY,
  };
}

class BatchRun {
  readonly #batch: Batch;
  readonly #ref: BatchRef;
  readonly #pool: SolverPool;
  readonly #options: PlanBatchOptions;
  #began: number | null = null;
  readonly #progress: Map<string, MouldingProgress>;
  readonly #starts = new Map<string, number>();
  #spent = 0;
  #waiting: number;

  constructor(batch: Batch, pool: SolverPool, options: PlanBatchOptions) {
    this.#batch = batch;
    this.#ref = { key: randomUUID(), source: { kind: 'batch', batch } };
    this.#pool = pool;
    this.#options = options;
    this.#waiting = batch.mouldings.length;
    this.#progress = new Map(
      batch.mouldings.map(({ id }) => [
        id,
        { moulding: id, state: 'waiting', proof: null, frames: 0, ordered: 0 },
      ]),
    );
  }

  async plan(): Promise<Plan> {
    const parts = await this.#parts();
    const { signal } = this.#options;
    const task = { kind: 'assemble', batch: this.#ref, parts } as const;
    const outcome = await this.#pool.run(() => ({ task, limit: ASSEMBLE_MS }), { signal });
    switch (outcome.kind) {
      case 'done':
        return planOf(this.#ref.key, outcome.answer.sealed);
      case 'failed':
        throw outcome.error;
      case 'died':
        throw new PairstopError(
          'PS_SOLVER',
          `the process that put the plan together died: ${outcome.reason}`,
        );
      case 'late':
        throw new PairstopError('PS_SOLVER', `the plan could not be put together in ${ASSEMBLE_MS / MS} s`);
      case 'aborted':
        throw cancelled(signal ?? AbortSignal.abort());
      default:
        return outcome satisfies never;
    }
  }

  /** All parts, or the first failure, which ends the others. */
  async #parts(): Promise<SealedPart[]> {
    const stop = new AbortController();
    const { signal } = this.#options;
    const signals = signal === undefined ? [stop.signal] : [signal, stop.signal];
    const both = AbortSignal.any(signals);
    const all = this.#batch.mouldings.map(({ id }) => this.#part(id, both));
    try {
      return await Promise.all(all);
    } catch (error) {
      stop.abort(error);
      await Promise.allSettled(all);
      throw error;
    }
  }

  #budget(moulding: string): number {
    const now = performance.now();
    const running = [...this.#starts.values()].reduce((sum, start) => sum + now - start, 0);
    const share = nextShare({
      limit: this.#batch.options.timeLimit * MS,
      spent: this.#spent + running,
      waiting: this.#waiting,
      slots: Math.min(this.#pool.size, this.#batch.mouldings.length),
    });
    this.#waiting -= 1;
    this.#began ??= now;
    this.#starts.set(moulding, now);
    this.#tell(moulding, { state: 'solving' });
    return share;
  }

  async #part(moulding: string, signal: AbortSignal): Promise<SealedPart> {
    let best: SealedPart | null = null;
    const onImproved = (improved: Improved): void => {
      if (improved.sealed !== null) best = { ...improved, sealed: improved.sealed };
      this.#tell(moulding, improved);
    };
    for (let attempt = 1; ; attempt++) {
      try {
        const { part } = await solveMoulding(this.#pool, {
          batch: this.#ref,
          moulding,
          budget: () => this.#budget(moulding),
          start: best,
          signal,
          onImproved,
        });
        this.#tell(moulding, { ...part, state: 'done' });
        return part;
      } catch (error) {
        const again = error instanceof PairstopError && error.code === 'PS_SOLVER' && attempt < ATTEMPTS;
        if (!again) throw error;
        this.#waiting += 1;
      } finally {
        this.#spent += performance.now() - (this.#starts.get(moulding) ?? performance.now());
        this.#starts.delete(moulding);
      }
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

/**
 * The plan of a batch within its time limit, checked before it is returned.
 * Throws PS_BATCH for frames no stick can hold, PS_SOLVER when a solver process cannot live, PS_CANCELLED.
 */
export async function planBatch(batch: Batch, options: PlanBatchOptions = {}): Promise<Plan> {
  refuseUncuttable(batch);
  const wanted = options.processes ?? availableParallelism();
  const pool = new SolverPool(localPool(Math.max(1, Math.min(wanted, batch.mouldings.length))));
  try {
    return await new BatchRun(batch, pool, options).plan();
  } finally {
    await pool.close();
  }
}
