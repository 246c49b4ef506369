/** The worker's own process over many jobs. */
import { batchOf } from '../../tests/tools/batches.js';
import { type Figure, round, type Setting, sleep, withService } from './setting.js';

const MB = 2 ** 20;
const SAMPLES = 10;
const FLAT_SHARE = 0.25;
const TOGETHER = 50;

async function memoryOf({ client }: Setting): Promise<number> {
  await sleep(6_000);
  return ((await client.service()).workers[0]?.memory ?? 0) / MB;
}

export async function* memory(full: boolean): AsyncGenerator<Figure> {
  const jobs = full ? 10_000 : 2_000;
  yield await withService([{ nowSlots: 2 }], async (setting) => {
    const samples: number[] = [];
    for (let sample = 0; sample < SAMPLES; sample++) {
      // A batch is two jobs: its own and its moulding's.
      const batches = jobs / 2 / SAMPLES;
      for (let from = 0; from < batches; from += TOGETHER) {
        const ids = Array.from(
          { length: Math.min(TOGETHER, batches - from) },
          (_, i) => `${sample} ${from + i}`,
        );
        for (const id of ids) await setting.client.submit(batchOf(id, ['ash']));
        for (const id of ids) await setting.client.result(id, { wait: 60_000 });
      }
      samples.push(await memoryOf(setting));
    }
    const early = Math.max(...samples.slice(2, 4));
    const late = Math.max(...samples.slice(-2));
    return {
      what: `memory of the worker's own process over ${jobs} jobs`,
      samplesMb: samples.map((sample) => round(sample)),
      kept: late <= early * (1 + FLAT_SHARE),
    };
  });
}
