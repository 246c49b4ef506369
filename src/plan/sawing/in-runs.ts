/** A plan's sticks in runs that the bench holds, rails exchanged between sticks where that saves setting a stop. */
import { divide } from '../../runs/divide.js';
import type { Engine } from '../../solve/engine.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Batch } from '../../terms.js';
import type { Answer } from '../build.js';
import { easierRun } from '../pairs/easier-run.js';
import type { PlanOptions } from '../part.js';

/** For half of the sticks of runs that would be overfull: units of work, and seeds, should it end before. */
const THOROUGH_WORK = 8_000_000;
const THOROUGH_SEEDS = 4;

/**
 * `answer` has been tidied. Searches until `options.deadline` at most. `gently`: its sticks stay much as they are cut,
 * where visits are worth more than stops.
 */
export function inRuns(
  batch: Batch,
  task: MouldingTask,
  answer: Answer,
  options: PlanOptions,
  { engine, gently = false }: { readonly engine: Engine; readonly gently?: boolean },
): Answer {
  const { now, deadline, seed, brisk = false } = options;
  const begin = now();
  const time = Math.max(1, deadline - begin);
  const stopped = (): boolean => options.stopped?.() === true;
  const division = divide(task, answer.copies, answer.patterns, batch.saw, {
    seed,
    elapsed: () => (stopped() ? 1 : (now() - begin) / time),
    gently,
    easier: easierRun(task, seed),
    ...(!brisk && {
      thorough: (problem, share) => {
        const ends = { now, deadline: begin + share * time, stopped, enough: () => 0 };
        let left = THOROUGH_WORK;
        for (let again = 0; again < THOROUGH_SEEDS && left > 0 && now() < ends.deadline; again++) {
          const found = engine.solve(problem, { ...ends, seed: seed + again, work: left });
          if (found.kind === 'solved') return found.patterns;
          if (found.proven) break;
          left -= Math.max(1, found.work);
        }
        return null;
      },
    }),
  });
  return { ...answer, patterns: division.runs.flatMap(({ patterns }) => patterns), division };
}

/** In runs without any search, the bench perhaps overfull, and not tidied: both have their turn later. */
export function asTheyCome(batch: Batch, task: MouldingTask, answer: Answer): Answer {
  const division = divide(task, answer.copies, answer.patterns, batch.saw, null);
  return { ...answer, patterns: division.runs.flatMap(({ patterns }) => patterns), division, tidied: true };
}
