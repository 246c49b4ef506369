/** Compares stick lengths on this machine, the questions of a comparison side by side in solver processes. */
import { randomUUID } from 'node:crypto';
import { setMaxListeners } from 'node:events';
import { availableParallelism } from 'node:os';
import { assembleComparison, isPriced } from '../compare/compare.js';
import { type Compared, type ComparisonWants, compareMoulding } from '../compare/moulding.js';
import { type OfferAnswer, type OfferQuestion, UNANSWERED } from '../compare/question.js';
import type { Comparison } from '../documents/comparison/types.js';
import { PairstopError } from '../errors.js';
import type { Order } from '../stock/lines.js';
import { narrowedTo } from '../stock/narrow.js';
import { refuseShopRack, refuseUncuttable } from '../stock/refusals.js';
import { comparedOrders, ResolvedBatch, withoutImpossible } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { localPool, type PlanBatchOptions } from './plan-batch.js';
import { type MouldingState, summarise } from './progress.js';
import { cancelled, GRACE_MS } from './solve-moulding.js';
import { answerOf, READ_MS } from './solver/answer.js';
import { SolverPool } from './solver/pool.js';
import type { AskTask, BatchSource } from './solver/tasks.js';

const MS = 1000;
/** Laying a million rails out takes about half a minute. */
const LAY_OUT_MS = 300_000;

export interface CompareBatchOptions extends PlanBatchOptions {
  /** Whether to find the prices at which the answer changes; by default true. */
  readonly breakEven?: boolean;
}

class Asker {
  readonly #pool: SolverPool;
  readonly #key = randomUUID();
  readonly #source: BatchSource;
  readonly #deadline: number;
  readonly #signal: AbortSignal;

  constructor(pool: SolverPool, batch: Batch, deadline: number, signal: AbortSignal) {
    this.#pool = pool;
    this.#source = { kind: 'batch', batch };
    this.#deadline = deadline;
    this.#signal = signal;
  }

  async ask(question: OfferQuestion): Promise<OfferAnswer> {
    const outcome = await this.#pool.run<AskTask>(
      (holds) => {
        const budget = Math.max(0, this.#deadline - performance.now());
        const batch = { key: this.#key, source: holds ? null : this.#source };
        const limit = question.layOut === null ? budget * question.share + GRACE_MS : LAY_OUT_MS;
        const reading = holds ? 0 : READ_MS;
        return { task: { kind: 'ask', batch, question, budget }, limit, reading };
      },
      { key: this.#key, signal: this.#signal },
    );
    if (outcome.kind === 'late') return UNANSWERED;
    const { answer } = answerOf<AskTask>(outcome, {
      died: (reason) => new PairstopError('PS_SOLVER', `a solver process died: ${reason}`),
      aborted: () => cancelled(this.#signal),
    });
    return answer;
  }
}

async function compareOrder(
  pool: SolverPool,
  batch: Batch,
  order: Order,
  deadline: number,
  signal: AbortSignal,
  asked: ComparisonWants,
): Promise<Compared> {
  const asker = new Asker(pool, narrowedTo(batch, order), deadline, signal);
  const asking = compareMoulding(batch, order, asked);
  for (let step = asking.next(); ; ) {
    if (step.done === true) return step.value;
    step = asking.next(await Promise.all(step.value.map((question) => asker.ask(question))));
  }
}

/**
 * The comparison of a batch within its time limit. Throws PS_BATCH for frames no stick can hold, PS_OFFERS where there
 * is nothing to choose from, PS_SOLVER when a solver process cannot live, PS_CANCELLED.
 */
export async function compareBatch(batch: Batch, options: CompareBatchOptions = {}): Promise<Comparison> {
  const { breakEven = true } = options;
  refuseShopRack(batch);
  const ordered = new ResolvedBatch(batch);
  refuseUncuttable(ordered);
  const { resolved } = withoutImpossible(ordered);
  const orders = comparedOrders(resolved);
  const asked = { priced: isPriced(batch), breakEven };
  const { timeLimit } = batch.options;
  const pool = new SolverPool(localPool(Math.max(1, options.processes ?? availableParallelism())));
  const states = new Map<string, MouldingState>(orders.map(({ moulding }) => [moulding.id, 'waiting']));
  const stop = new AbortController();
  const signal = AbortSignal.any(
    options.signal === undefined ? [stop.signal] : [options.signal, stop.signal],
  );
  // One listener a question is no leak.
  setMaxListeners(0, signal);
  try {
    await pool.warm();
    const begin = performance.now();
    const end = begin + timeLimit * MS;
    const tell = (moulding: string, state: MouldingState): void => {
      states.set(moulding, state);
      const mouldings = [...states].map(([id, at]) => ({
        moulding: id,
        state: at,
        proof: null,
        frames: 0,
        ordered: 0,
      }));
      options.onProgress?.(summarise(mouldings, { elapsed: (performance.now() - begin) / MS, timeLimit }));
    };
    const results: Compared[] = [];
    for (const [i, order] of orders.entries()) {
      tell(order.moulding.id, 'solving');
      const now = performance.now();
      const deadline = now + Math.max(0, end - now) / (orders.length - i);
      results.push(await compareOrder(pool, resolved.batch, order, deadline, signal, asked));
      tell(order.moulding.id, 'done');
    }
    return assembleComparison(ordered, results);
  } finally {
    stop.abort();
    await pool.close();
  }
}
