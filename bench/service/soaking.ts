/**
 * Runs of 20 batches while faults of all kinds come at random moments; 200 of them with --full, or `--runs 50 --from 100`.
 * `--abreast 3` does so many at a time, each with servers of its own; `--minutes 9` begins none after that. Each run is told
 * on the error stream with its number, so that the rest can be done later and one run alone again.
 */
import { type SoakResult, soak } from '../tools/soak.js';
import { type Figure, round } from './setting.js';

const FULL_RUNS = 200;
const SHORT_RUNS = 5;
const FAULTS = 6;
const MINUTE_MS = 60_000;

/** A number of the command line. */
function given(name: string, standard: number): number {
  const at = process.argv.indexOf(name);
  return at < 0 ? standard : Number(process.argv[at + 1]);
}

/** A run that broke a promise says which, with its seed. */
function isSound({ lost, notOnce, wrong, left, unnamed }: SoakResult): boolean {
  return lost + notOnce + wrong + left + unnamed.length === 0;
}

export async function* soaking(full: boolean): AsyncGenerator<Figure> {
  const from = given('--from', 0);
  const to = from + given('--runs', full ? FULL_RUNS : SHORT_RUNS);
  const end = performance.now() + given('--minutes', Number.POSITIVE_INFINITY) * MINUTE_MS;
  const sum = {
    ...{ runs: 0, batches: 0, lost: 0, notOnce: 0, wrong: 0, left: 0, unnamed: 0 },
    ...{ broken: 0, cutShort: 0, seconds: 0 },
  };
  const faults: Record<string, number> = {};
  let next = from;
  const lane = async (): Promise<void> => {
    while (next < to && performance.now() < end) {
      const run = next++;
      const given = { seed: `soak ${run}`, batches: 20, faults: FAULTS, workers: 2 };
      const result = await soak(given).catch((error: unknown) => String(error));
      if (typeof result === 'string') {
        sum.broken += 1;
        console.error(JSON.stringify({ run, broken: result }));
        continue;
      }
      sum.runs += 1;
      sum.batches += result.batches;
      sum.lost += result.lost;
      sum.notOnce += result.notOnce;
      sum.wrong += result.wrong;
      sum.left += result.left;
      sum.cutShort += result.cutShort;
      sum.unnamed += result.unnamed.length;
      sum.seconds += result.seconds;
      for (const kind of result.faults) faults[kind] = (faults[kind] ?? 0) + 1;
      console.error(JSON.stringify({ run, sound: isSound(result), ...result }));
    }
  };
  await Promise.all(Array.from({ length: given('--abreast', 1) }, lane));
  yield {
    what: `${sum.runs} of ${FULL_RUNS} runs with faults at random moments, from run ${from}`,
    ...sum,
    faults,
    seconds: round(sum.seconds),
    kept: sum.lost + sum.notOnce + sum.wrong + sum.left + sum.unnamed + sum.broken === 0,
  };
}
