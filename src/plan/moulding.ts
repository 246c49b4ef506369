/** Plans one moulding of a batch. */
import { PairstopError } from '../errors.js';
import type { Engine } from '../solve/engine.js';
import type { Proof } from '../solve/problem.js';
import type { Order } from '../stock/lines.js';
import { allCopies } from '../stock/problem.js';
import type { ResolvedBatch } from '../stock/resolved.js';
import type { MouldingTask } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { type Answer, buildLesser, emptyPart, lesser, type Missing, withBound } from './build.js';
import { mayMerge, mergeStops, unmergedPart } from './merging.js';
import type { MouldingPart, PlanOptions } from './part.js';
import { handier } from './sawing/handier.js';
import { possibleFrames } from './short/shortage.js';
import { shortfallOf, withLeftovers } from './short/shortfall.js';
import { ask, framesIn } from './solving.js';

/** Share of the time for the plan with every rail at its own setting, where stops are merged after it. */
const UNMERGED_SHARE = 0.5;

/**
 * What an earlier run of the same batch proved still holds, and the time left may not have been enough to prove it
 * again. Only for the first goal: the bounds of later ones hang on the values the run before reached on the first.
 */
function keepBound(task: MouldingTask, part: MouldingPart, start: MouldingPart | undefined): MouldingPart {
  if (start === undefined || task.proofGoal !== 0 || start.plan.status !== 'complete') return part;
  const known = start.plan.merging?.unmerged.bound ?? start.plan.proof.bound;
  if (known <= part.plan.proof.bound) return part;
  return { ...part, plan: { ...part.plan, proof: withBound(part.plan.proof, known) } };
}

/** The proofs of an earlier run's plan than which none is cheaper; null where there may be one. */
function provenOf(
  batch: Batch,
  task: MouldingTask,
  start: MouldingPart | undefined,
): readonly Proof[] | null {
  if (start === undefined || batch.options.mergeStops || task.charge !== null || task.goals.length > 1)
    return null;
  const { status, proof } = start.plan;
  if (status !== 'complete' || proof.status !== 'optimal') return null;
  const value = proof.measure === 'cost' ? start.totals.cost : start.totals.stockLength;
  return [{ status: 'optimal', value, bound: value }];
}

/** Likewise where time has a price: the cheaper of both plans, and the higher bound. */
function keepPriced(batch: Batch, part: MouldingPart, start: MouldingPart | undefined): MouldingPart {
  const [now, before] = [part.plan.priced, start?.plan.priced];
  if (start === undefined || now === undefined || before === undefined) return part;
  if (part.plan.status !== 'complete' || start.plan.status !== 'complete') return part;
  const best = lesser(batch, start, part);
  const { value } = best.plan.priced!;
  const bound = Math.min(value, Math.max(now.bound, before.bound));
  const status = bound === value ? 'optimal' : bound > 0 ? 'within' : 'unproven';
  return { ...best, plan: { ...best.plan, priced: { status, value, bound } } };
}

class Planning {
  readonly #batch: Batch;
  readonly #task: MouldingTask;
  readonly #engine: Engine;
  readonly #options: PlanOptions;
  /** Whether it is cut like this, as far as is known. */
  readonly #cut: boolean;

  constructor(batch: Batch, task: MouldingTask, engine: Engine, options: PlanOptions, cut: boolean) {
    this.#batch = batch;
    this.#task = task;
    this.#engine = engine;
    this.#options = options;
    this.#cut = cut;
  }

  #part(answer: Answer & { readonly others?: readonly Answer[] }, missing: Missing | null): MouldingPart {
    return buildLesser(this.#batch, this.#task, answer, missing);
  }

  /** The same on the way, before merging was looked at. */
  #onTheWay(answer: Answer, missing: Missing | null): MouldingPart {
    return unmergedPart(this.#batch, this.#task, this.#part(answer, missing), 'unsolved');
  }

  #short(): MouldingPart {
    const [batch, task, engine, options] = [this.#batch, this.#task, this.#engine, this.#options];
    const possible = possibleFrames(batch, task, engine, options);
    const { copies } = possible;
    const shortfall = shortfallOf(batch, task, copies, engine, options);
    const missing = { shortfall, proven: possible.proven };
    if (framesIn(copies) === 0) {
      const empty = emptyPart(batch, task);
      return { ...empty, plan: { ...empty.plan, status: 'short' }, shortfall, copies };
    }
    const answer = ask(batch, engine, options, {
      task,
      copies,
      start: possible.patterns,
      deadline: options.deadline,
      certain: true,
      cut: this.#cut,
      part: (one) => this.#onTheWay(one, missing),
    });
    if (answer.kind === 'none') {
      throw new PairstopError(
        'PS_INTERNAL',
        `${task.moulding.id}: no plan for frames that were found to fit`,
      );
    }
    return this.#part(answer, missing);
  }

  /** Every rail at its own setting. */
  plan(): MouldingPart {
    const { deadline, start } = this.#options;
    const proven = provenOf(this.#batch, this.#task, start);
    const answer = ask(this.#batch, this.#engine, this.#options, {
      task: this.#task,
      copies: allCopies(this.#batch, this.#task),
      start: start?.patterns ?? [],
      proven,
      deadline,
      certain: false,
      cut: this.#cut,
      part: (one) => this.#onTheWay(one, null),
    });
    if (answer.kind === 'none') return this.#short();
    const part = keepPriced(this.#batch, this.#part(answer, null), start);
    return proven === null ? keepBound(this.#task, part, start) : handier(this.#batch, part, start!);
  }
}

function planMerged(
  batch: Batch,
  order: Order,
  task: MouldingTask,
  engine: Engine,
  options: PlanOptions,
): MouldingPart {
  const { now, deadline } = options;
  const begin = now();
  const merges = mayMerge(batch, task);
  const until = merges ? begin + (deadline - begin) * UNMERGED_SHARE : deadline;
  const apart = new Planning(batch, task, engine, { ...options, deadline: until }, !merges).plan();
  return mergeStops(batch, order, task, apart, engine, options, merges && now() >= until);
}

/**
 * The plan of one moulding, by its id. Pure: the same batch, seed and engine give the same part unless the deadline
 * cuts the search short. The batch must have passed `refusals`. Throws PS_INTERNAL for a moulding the batch lacks.
 */
export function planMoulding(
  resolved: ResolvedBatch,
  moulding: string,
  engine: Engine,
  options: PlanOptions,
): MouldingPart {
  const { batch } = resolved;
  const order = resolved.order(moulding);
  const task = resolved.task(order);
  if (task === null) return emptyPart(batch, order);
  const part = batch.options.mergeStops
    ? planMerged(batch, order, task, engine, options)
    : new Planning(batch, task, engine, options, true).plan();
  return withLeftovers(batch, task, part, engine, options);
}
