/** Plans one moulding of a batch. */
import { PairstopError } from '../errors.js';
import type { Engine } from '../solve/engine.js';
import type { Outcome, Pattern, Solved } from '../solve/problem.js';
import { ordersOf } from '../stock/orders.js';
import { allCopies, problemOf, taskOf } from '../stock/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { type Answer, buildPart, emptyPart, type Missing, proofOf } from './build.js';
import type { MouldingPart, PlanOptions } from './part.js';
import { possibleFrames, shortfallOf } from './shortage.js';

/** Share of the time after which a moulding without any plan is treated as short of stock. */
const FIRST_PLAN_SHARE = 0.4;

function count(copies: Copies): number {
  return copies.reduce((sum, n) => sum + n, 0);
}

/**
 * What an earlier run of the same batch proved still holds, and the time left may not have been enough to prove it
 * again. Only for the first goal: the bounds of later ones hang on the values the run before reached on the first.
 */
function keepBound(task: MouldingTask, part: MouldingPart, start: MouldingPart | undefined): MouldingPart {
  if (start === undefined || task.proofGoal !== 0 || start.plan.status !== 'complete') return part;
  const { proof } = part.plan;
  if (start.plan.proof.bound <= proof.bound) return part;
  const bound = Math.min(proof.value, start.plan.proof.bound);
  const status = bound === proof.value ? 'optimal' : 'within';
  return { ...part, plan: { ...part.plan, proof: { ...proof, bound, status } } };
}

class Planning {
  readonly #batch: Batch;
  readonly #task: MouldingTask;
  readonly #engine: Engine;
  readonly #options: PlanOptions;

  constructor(batch: Batch, task: MouldingTask, engine: Engine, options: PlanOptions) {
    this.#batch = batch;
    this.#task = task;
    this.#engine = engine;
    this.#options = options;
  }

  #solve(copies: Copies, start: readonly Pattern[], missing: Missing | null, giveUp: number): Outcome {
    const options = this.#options;
    const { problem, inward, outward } = problemOf(this.#task, copies);
    const ordered = count(allCopies(this.#batch, this.#task));
    let found = false;
    const answer = ({ patterns, proofs }: Solved): Answer => ({
      copies,
      patterns: patterns.map(outward),
      proofs,
    });
    const outcome = this.#engine.solve(problem, {
      now: options.now,
      deadline: options.deadline,
      seed: options.seed,
      onImproved: (solved) => {
        found = true;
        options.onImproved?.({
          moulding: this.#task.moulding.id,
          proof: proofOf(this.#task, solved.proofs),
          frames: count(copies),
          ordered,
          part: () => buildPart(this.#batch, this.#task, answer(solved), missing),
        });
      },
      stopped: () => options.stopped?.() === true || (!found && options.now() > giveUp),
      start: start.map(inward),
    });
    return outcome.kind === 'none' ? outcome : { ...outcome, ...answer(outcome) };
  }

  #short(): MouldingPart {
    const [batch, task, engine, options] = [this.#batch, this.#task, this.#engine, this.#options];
    const possible = possibleFrames(batch, task, engine, options);
    const { copies } = possible;
    const shortfall = shortfallOf(batch, task, copies, engine, options);
    const missing = { shortfall, proven: possible.proven };
    if (count(copies) === 0) {
      const empty = emptyPart(task.moulding.id, task.offers.length > 0);
      return { ...empty, plan: { ...empty.plan, status: 'short' }, shortfall, copies };
    }
    const outcome = this.#solve(copies, possible.patterns, missing, Number.POSITIVE_INFINITY);
    if (outcome.kind === 'none') {
      throw new PairstopError(
        'PS_INTERNAL',
        `${task.moulding.id}: no plan for frames that were found to fit`,
      );
    }
    return buildPart(batch, task, { ...outcome, copies }, missing);
  }

  plan(): MouldingPart {
    const { now, deadline, start } = this.#options;
    const all = allCopies(this.#batch, this.#task);
    const begin = now();
    const giveUp = begin + (deadline - begin) * FIRST_PLAN_SHARE;
    const outcome = this.#solve(all, start?.patterns ?? [], null, giveUp);
    if (outcome.kind === 'none') return this.#short();
    return keepBound(
      this.#task,
      buildPart(this.#batch, this.#task, { ...outcome, copies: all }, null),
      start,
    );
  }
}

/**
 * The plan of one moulding, by its id. Pure: the same batch, seed and engine give the same part unless the deadline
 * cuts the search short. The batch must have passed `refusals`. Throws PS_INTERNAL for a moulding the batch lacks.
 */
export function planMoulding(
  batch: Batch,
  moulding: string,
  engine: Engine,
  options: PlanOptions,
): MouldingPart {
  const order = ordersOf(batch).get(moulding);
  if (order === undefined) throw new PairstopError('PS_INTERNAL', `the batch has no moulding "${moulding}"`);
  const task = taskOf(batch, order);
  if (task === null) return emptyPart(moulding, order.offers.length > 0);
  return new Planning(batch, task, engine, options).plan();
}
