/** One question to the engine: the frames of a task, some or all, from its sticks. */
import type { Engine } from '../solve/engine.js';
import type { NoPlan, Pattern, Solved } from '../solve/problem.js';
import { allCopies, problemOf } from '../stock/problem.js';
import type { Copies, MouldingTask } from '../stock/task.js';
import type { Batch } from '../terms.js';
import { type Answer, proofOf } from './build.js';
import { inRuns } from './in-runs.js';
import { pairsTogether } from './pairs/together.js';
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
  /** What is found is what will be cut: worth trying to keep pairs on one stick. */
  readonly cut: boolean;
  /** What an improvement becomes, should it be the last. */
  readonly part: (answer: Answer) => MouldingPart;
}

/** Share of the time kept for the handling of a plan. */
export const HANDLING_SHARE = 0.12;
/** Of that, for solving again, and for that and dividing into runs; the rest lays the plan out. */
export const TRIES_SHARE = 0.45;
export const RUNS_SHARE = 0.8;

/** `work`: what the search for it took, in the engine's units. */
export type Solution = (Answer & { readonly kind: 'solved'; readonly work: number }) | NoPlan;

export function framesIn(copies: Copies): number {
  return copies.reduce((sum, n) => sum + n, 0);
}

export function ask(batch: Batch, engine: Engine, options: PlanOptions, question: Question): Solution {
  const { task, copies, part } = question;
  const { problem, inward, outward } = problemOf(task, copies);
  const ordered = framesIn(allCopies(batch, task));
  const begin = options.now();
  const deadline = question.deadline - (question.cut ? (question.deadline - begin) * HANDLING_SHARE : 0);
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
        // Not worth making handier: it only counts should the process die before a better one.
        part: () => part({ ...answerOf(solved), tidied: true }),
      });
    },
    stopped: () => options.stopped?.() === true || (!found && options.now() > giveUp),
    start: question.start.map(inward),
  });
  if (outcome.kind === 'none') return outcome;
  const answer = answerOf(outcome);
  if (!question.cut) return { kind: 'solved', ...answer, work: outcome.work };
  const until = (share: number): PlanOptions => ({
    ...options,
    deadline: deadline + (question.deadline - deadline) * share,
  });
  const handy = pairsTogether(task, answer, outcome.work, engine, until(TRIES_SHARE));
  const divided = inRuns(batch, task, handy, until(RUNS_SHARE));
  return { kind: 'solved', ...divided, work: outcome.work };
}
