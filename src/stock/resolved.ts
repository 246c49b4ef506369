/** A batch with what planning derives from it: resolved once, where it comes in, and handed down. */
import { PairstopError } from '../errors.js';
import type { Batch } from '../terms.js';
import { type ImpossibleFrame, impossibleIn, surelyFits } from './impossible.js';
import { type Order, sortOrders } from './lines.js';
import { taskOf } from './problem.js';
import type { MouldingTask } from './task.js';

/** Each part is worked out when it is first asked for: a batch may hold 100,000 mouldings, and a process plans one. */
export class ResolvedBatch {
  readonly batch: Batch;
  readonly #every: ReadonlyMap<string, Order>;
  readonly #tasks = new Map<Order, MouldingTask | null>();
  #impossible: readonly ImpossibleFrame[] | null = null;
  #orders: ReadonlyMap<string, Order> | null = null;

  constructor(batch: Batch) {
    this.batch = batch;
    this.#every = sortOrders(batch);
  }

  /** Every rail and run that cannot be cut from anything, in the order of the mouldings; a line may come twice. */
  get impossible(): readonly ImpossibleFrame[] {
    this.#impossible ??= [...this.#every.values()].flatMap((order) => {
      if (surelyFits(this.batch, order)) return [];
      const task = this.task(order);
      return task === null ? [] : impossibleIn(this.batch, task);
    });
    return this.#impossible;
  }

  /** What is planned, by moulding id in the order of the batch: all, or all but impossible frames where those are skipped. */
  get orders(): ReadonlyMap<string, Order> {
    this.#orders ??= this.batch.options.skipImpossible ? this.#possible() : this.#every;
    return this.#orders;
  }

  /** Throws PS_INTERNAL for a moulding the batch lacks. */
  order(moulding: string): Order {
    const order = this.orders.get(moulding);
    if (order === undefined)
      throw new PairstopError('PS_INTERNAL', `the batch has no moulding "${moulding}"`);
    return order;
  }

  /** The work of one order, every rail at its own setting; null when nothing is ordered. */
  task(order: Order): MouldingTask | null {
    const known = this.#tasks.get(order);
    if (known !== undefined) return known;
    const task = taskOf(this.batch, order);
    this.#tasks.set(order, task);
    return task;
  }

  #possible(): ReadonlyMap<string, Order> {
    const out = new Set(this.impossible.map(({ line }) => line));
    if (out.size === 0) return this.#every;
    return new Map(
      [...this.#every].map(([id, order]) => [
        id,
        { ...order, lines: order.lines.filter((line) => !out.has(line)) },
      ]),
    );
  }
}

/** The batch as if the frames that nothing can hold had not been ordered, where it has them skipped, and those frames. */
export function withoutImpossible(resolved: ResolvedBatch): {
  readonly resolved: ResolvedBatch;
  readonly skipped: readonly ImpossibleFrame[];
} {
  const { batch, impossible } = resolved;
  if (!batch.options.skipImpossible) return { resolved, skipped: [] };
  const out = new Set(impossible.map(({ line }) => line));
  const possible = {
    ...batch,
    frames: batch.frames.filter((_, line) => !out.has(line)),
    options: { ...batch.options, skipImpossible: false },
  };
  return { resolved: new ResolvedBatch(possible), skipped: impossible };
}

/** The orders of mouldings with offers to choose from, which are compared. Throws PS_OFFERS where there are none. */
export function comparedOrders({ batch, orders }: ResolvedBatch): readonly Order[] {
  const wanted = [...orders.values()].filter(({ lines }) => lines.length > 0);
  const choosing = wanted.filter(({ offers }) => offers.length > 0);
  if (choosing.length === 0) {
    const names = wanted.map(({ moulding }) => JSON.stringify(moulding.id)).join(' or ');
    const problem =
      wanted.length === 0
        ? {
            path: 'frames',
            given: 'only frames that nothing of the batch can hold, all skipped',
            allowed: 'at least one frame that a stick or an offer can hold',
          }
        : {
            path: 'offers',
            given:
              batch.offers.length === 0 ? 'no offers' : 'no offers of a moulding that frames are ordered in',
            allowed: `at least one offer of ${names}`,
          };
    throw new PairstopError(
      'PS_OFFERS',
      `there is nothing to compare: ${problem.path}: given ${problem.given}; allowed: ${problem.allowed}`,
      [problem],
    );
  }
  return choosing;
}
