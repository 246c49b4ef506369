/** Divided plans where time has a price, bettered with their runs. */
import { weigh, weighs } from '../../runs/weigh/weigh.js';
import { MS_PER_HOUR } from '../../stock/charge.js';
import type { MouldingTask } from '../../stock/task.js';
import type { Batch } from '../../terms.js';
import type { Answer } from '../build.js';
import type { PlanOptions } from '../part.js';

/** `least`: the engine's bound. The better plan, if one was found; none where no bench limits the runs, or the search does not serve. */
export function weighedAgain(
  batch: Batch,
  task: MouldingTask,
  answers: readonly Answer[],
  least: number,
  options: PlanOptions,
): readonly Answer[] {
  const { saw, labour } = batch;
  const [first] = answers;
  const divided = answers.flatMap(({ division }) => (division === undefined ? [] : [division.runs]));
  const single = divided[0]?.length === 1;
  if (first === undefined || divided.length === 0 || single || saw.bench === null || !weighs(task, saw.order))
    return [];
  const price = (time: number): number => (time * labour.rate! * task.charge!.scale) / MS_PER_HOUR;
  const prices = { visit: price(labour.takeStick), stop: price(labour.setStop) };
  const begin = options.now();
  const time = Math.max(1, options.deadline - begin);
  const division = weigh(task, first.copies, divided, saw.bench, prices, {
    seed: options.seed,
    elapsed: () => (options.stopped?.() === true ? 1 : (options.now() - begin) / time),
    least,
  });
  if (division === null) return [];
  const patterns = division.runs.flatMap((run) => run.patterns);
  return [{ ...first, patterns, division }];
}
