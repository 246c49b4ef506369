/** Small batches through 1, 2 and 4 workers, against planning them one after the other in one process. */
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planBatchHere } from '../../src/plan/here.js';
import { highsRuntime } from '../../src/processes/solver/load-highs.js';
import { createEngine } from '../../src/solve/engine.js';
import { batchOf } from '../../tests/tools/batches.js';
import { type Figure, percentile, round, withService } from './setting.js';

const PROMISED_SHARE = 0.8;
const PROMISED_SUBMIT_MS = 10;

function documents(count: number): BatchDocument[] {
  return Array.from({ length: count }, (_, i) => batchOf(`small ${i}`, ['ash'], { frames: 12, seed: i }));
}

/** Batches a second, reading and checking included, as the service does both. */
async function inProcess(all: readonly BatchDocument[]): Promise<number> {
  const engine = createEngine({ highs: highsRuntime });
  const plan = (document: BatchDocument): void => {
    const batch = checkBatch(JSON.parse(JSON.stringify(document)));
    if (!checkPlan(batch, planBatchHere(batch, engine, { now: () => performance.now() })).ok)
      throw new Error('wrong');
  };
  for (const document of all.slice(0, 20)) plan(document);
  const began = performance.now();
  for (const document of all) plan(document);
  return (all.length * 1_000) / (performance.now() - began);
}

async function throughQueue(all: readonly BatchDocument[], workers: number, slots: number) {
  const settings = Array.from({ length: workers }, () => ({ nowSlots: slots }));
  return withService(settings, async ({ client }) => {
    for (let i = 0; i < 20; i++) {
      await client.submit(batchOf(`warm ${i}`, ['ash']));
      await client.result(`warm ${i}`, { wait: 60_000 });
    }
    const submits: number[] = [];
    const began = performance.now();
    for (const document of all) {
      const at = performance.now();
      await client.submit(document);
      submits.push(performance.now() - at);
    }
    const queued = performance.now();
    for (const { id } of all) await client.result(id, { wait: 600_000 });
    return { rate: (all.length * 1_000) / (performance.now() - began), submits, submitting: queued - began };
  });
}

export async function* throughput(full: boolean): AsyncGenerator<Figure> {
  const all = documents(full ? 1_000 : 300);
  const here = await inProcess(all);
  for (const [workers, slots] of [
    [1, 1],
    [1, 2],
    [2, 1],
    [4, 1],
  ] as const) {
    const { rate, submits } = await throughQueue(all, workers, slots);
    const p99 = percentile(submits, 0.99);
    yield {
      what: `${workers} worker${workers === 1 ? '' : 's'} with ${slots} slot${slots === 1 ? '' : 's'} each`,
      batches: all.length,
      inProcessPerSecond: round(here),
      perSecond: round(rate),
      share: round(rate / here, 2),
      submitP50Ms: round(percentile(submits, 0.5), 2),
      submitP99Ms: round(p99, 2),
      promisedShare: PROMISED_SHARE,
      promisedSubmitP99Ms: PROMISED_SUBMIT_MS,
      kept: rate / here >= PROMISED_SHARE && p99 < PROMISED_SUBMIT_MS,
    };
  }
}
