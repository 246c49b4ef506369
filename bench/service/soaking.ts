/** Runs of 20 batches with kills of workers and Redis at random moments; 100 of them with --full. */
import { soak } from '../tools/soak.js';
import { type Figure, round } from './setting.js';

const FULL_RUNS = 100;
const SHORT_RUNS = 5;

export async function* soaking(full: boolean): AsyncGenerator<Figure> {
  const runs = full ? FULL_RUNS : SHORT_RUNS;
  const sum = { batches: 0, kills: 0, lost: 0, notOnce: 0, wrong: 0, left: 0, seconds: 0 };
  for (let run = 0; run < runs; run++) {
    const result = await soak({ seed: `soak ${run}`, batches: 20, kills: 5, workers: 2 });
    const { lost, notOnce, wrong, left } = result;
    sum.batches += result.batches;
    sum.kills += result.kills.length;
    sum.lost += lost;
    sum.notOnce += notOnce;
    sum.wrong += wrong;
    sum.left += left;
    sum.seconds += result.seconds;
    if (lost + notOnce + wrong + left > 0) console.error(JSON.stringify({ run, ...result }));
  }
  yield {
    what: `${runs} of ${FULL_RUNS} runs with kills at random moments`,
    ...sum,
    seconds: round(sum.seconds),
    kept: sum.lost + sum.notOnce + sum.wrong + sum.left === 0,
  };
}
