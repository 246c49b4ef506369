/** Turns a task's outcome into its answer, or into the error for any other end. */
import { PairstopError } from '../../errors.js';
import type { TaskOutcome } from './pool.js';
import type { AssembleTask, SealedPlan, Task, TaskAnswer } from './tasks.js';

/** Milliseconds in which a plan is put together: laying out and checking a million rails takes about half a minute. */
export const ASSEMBLE_MS = 300_000;
/** Milliseconds in which a batch is read: 90 MiB take some 30 s. */
export const READ_MS = 120_000;

export interface OtherEnds {
  /** The error for a process that died or did not answer in time, with the reason. */
  readonly died: (reason: string) => PairstopError;
  /** The error for an answer that took longer than so many milliseconds; by default `died`. */
  readonly late?: (limit: number) => PairstopError;
  /** The error when the signal came first. */
  readonly aborted: () => PairstopError;
}

/** Throws the task's own error, or what `ends` say. */
export function answerOf<T extends Task>(outcome: TaskOutcome<T>, ends: OtherEnds): TaskAnswer<T> {
  switch (outcome.kind) {
    case 'done':
      return outcome.answer;
    case 'failed':
      throw outcome.error;
    case 'died':
      throw ends.died(outcome.reason);
    case 'late':
      throw ends.late?.(outcome.limit) ?? ends.died('it did not answer in time');
    case 'aborted':
      throw ends.aborted();
    default:
      return outcome satisfies never;
  }
}

export function assembledOf(outcome: TaskOutcome<AssembleTask>, aborted: () => PairstopError): SealedPlan {
  return answerOf(outcome, {
    died: (reason) =>
      new PairstopError('PS_SOLVER', `the process that put the plan together died: ${reason}`),
    late: () =>
      new PairstopError('PS_SOLVER', `the plan could not be put together in ${ASSEMBLE_MS / 1000} s`),
    aborted,
  });
}
