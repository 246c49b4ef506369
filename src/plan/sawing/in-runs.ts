/** A plan's sticks in runs that the bench holds, rails exchanged between sticks where that saves setting a stop. */
import { divide } from '../../runs/divide.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Batch } from '../../terms.js';
import type { Answer } from '../build.js';
import { easierRun } from '../pairs/easier-run.js';
import type { PlanOptions } from '../part.js';

/**
 * `answer` has been tidied. Searches until `options.deadline` at most. `gently`: its sticks stay much as they are cut,
 * where visits are worth more than stops.
 */
export function inRuns(
  batch: Batch,
  task: MouldingTask,
  answer: Answer,
  options: PlanOptions,
  gently = false,
): Answer {
  const begin = options.now();
  const time = Math.max(1, options.deadline - begin);
  const division = divide(task, answer.copies, answer.patterns, batch.saw, {
    seed: options.seed,
    elapsed: () => (options.stopped?.() === true ? 1 : (options.now() - begin) / time),
    gently,
    easier: easierRun(task, options.seed),
  });
  return { ...answer, patterns: division.runs.flatMap(({ patterns }) => patterns), division };
}

/** In runs without any search, the bench perhaps overfull, and not tidied: both have their turn later. */
export function asTheyCome(batch: Batch, task: MouldingTask, answer: Answer): Answer {
  const division = divide(task, answer.copies, answer.patterns, batch.saw, null);
  return { ...answer, patterns: division.runs.flatMap(({ patterns }) => patterns), division, tidied: true };
}
