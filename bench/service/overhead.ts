/** From submitting to holding the plan, beyond what planning itself takes. */

import { checkBatch } from '../../src/documents/batch/read.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { batchOf } from '../../tests/tools/batches.js';
import { type Figure, percentile, round, withService } from './setting.js';

const PROMISED_MS = 150;
const WARM_UP = 10;

async function solvingTime(count: number): Promise<number[]> {
  const engine = createEngine({ highs: highsRuntime });
  return Array.from({ length: count }, (_, i) => {
    const batch = checkBatch(batchOf(`overhead ${i}`, ['ash'], { frames: 4 }));
    const began = performance.now();
    planBatchHere(batch, engine, { now: () => performance.now() });
    return performance.now() - began;
  });
}

async function throughQueue(count: number, recycleAfter: number) {
  return withService([{ nowSlots: 1, recycleAfter }], async ({ client }) => {
    const submits: number[] = [];
    const answers: number[] = [];
    for (let i = 0; i < count; i++) {
      const document = batchOf(`overhead ${i}`, ['ash'], { frames: 4 });
      const began = performance.now();
      await client.submit(document);
      submits.push(performance.now() - began);
      await client.result(document.id, { wait: 60_000 });
      answers.push(performance.now() - began);
    }
    return { submits: submits.slice(WARM_UP), answers: answers.slice(WARM_UP) };
  });
}

export async function* overhead(full: boolean): AsyncGenerator<Figure> {
  const count = WARM_UP + (full ? 200 : 60);
  const solving = percentile((await solvingTime(count)).slice(WARM_UP), 0.5);
  // Warm processes save a process start for each task. That way is shown beside them, without a promise.
  for (const [what, recycleAfter, promised] of [
    ['warm solver processes', 1_000, PROMISED_MS],
    ['a process start for each task', 1, Number.POSITIVE_INFINITY],
  ] as const) {
    const { submits, answers } = await throughQueue(count, recycleAfter);
    const beyond = percentile(answers, 0.5) - solving;
    yield {
      what,
      batches: answers.length,
      solvingP50Ms: round(solving),
      answerP50Ms: round(percentile(answers, 0.5)),
      answerP95Ms: round(percentile(answers, 0.95)),
      overheadP50Ms: round(beyond),
      submitP50Ms: round(percentile(submits, 0.5), 2),
      submitP99Ms: round(percentile(submits, 0.99), 2),
      promisedMs: promised,
      kept: beyond < promised,
    };
  }
}
