/** One question to the engine: the frames of a task, some or all, from its sticks. */
import type { Engine } from '../solve/engine.js';
import type { NoPlan, Pattern, Solved } from '../solve/problem.js';
import { allCopies, problemOf } from '../stock/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { type Answer, proofOf } from './build.js';
import type { MouldingPart, PlanOptions } from './part.js';

/** Share of the time after which a moulding without any plan is treated as short of stock. */
const FIRST_PLAN_SHARE = 0.4;

export interface Question {
  readonly task: MouldingTask;
  readonly copies: Copies;
  /** Patterns to go on from, items numbered as in the task. */
  readonly start: readonly Pattern[];
  readonly deadline: number;
  /** Some plan is known to exist: it is worth all the time there is. */
  readonly certain: boolean;
  /** What an improvement becomes, should it be the last. */
  readonly part: (answer: Answer) => MouldingPart;
}

export type Solution = (Answer & { readonly kind: 'solved' }) | NoPlan;

export function framesIn(copies: Copies): number {
  return copies.reduce((sum, n) => sum + n, 0);
}

export function ask(batch: Batch, engine: Engine, options: PlanOptions, question: Question): Solution {
  const { task, copies, deadline, part } = question;
  const { problem, inward, outward } = problemOf(task, copies);
  const ordered = framesIn(allCopies(batch, task));
  const begin = options.now();
  const giveUp = question.certain ? Number.POSITIVE_INFINITY : begin + (deadline - begin) * FIRST_PLAN_SHARE;
  let found = false;
  const answerOf = ({ patterns, proofs }: Solved): Answer => ({
    copies,
    patterns: patterns.map(outward),
    proofs,
  });
  const outcome = engine.solve(problem, {
    now: options.now,
    deadline,
    seed: options.seed,
    onImproved: (solved) => {
      found = true;
      options.onImproved?.({
        moulding: task.moulding.id,
        proof: proofOf(task, solved.proofs),
        frames: framesIn(copies),
        ordered,
        part: () => part(answerOf(solved)),
      });
    },
    stopped: () => options.stopped?.() === true || (!found && options.now() > giveUp),
    start: question.start.map(inward),
  });
  return outcome.kind === 'none' ? outcome : { kind: 'solved', ...answerOf(outcome) };
}
