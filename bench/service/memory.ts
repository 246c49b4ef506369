/** The worker's own process over many jobs. */
import { createClient } from '../../src/queue/client/client.js';
import { batchOf } from '../../tests/tools/batches.js';
import { Killable } from '../../tests/tools/killable.js';
import { TestRedis } from '../../tests/tools/redis.js';
import { type Figure, round, type Setting, sleep, withService } from './setting.js';

const MB = 2 ** 20;
const SAMPLES = 10;
const FLAT_SHARE = 0.25;
const TOGETHER = 50;

async function memoryOf({ client }: Setting): Promise<number> {
  await sleep(6_000);
  return ((await client.service()).workers[0]?.memory ?? 0) / MB;
}

const KEPT_MOST = 10_000;
const QUEUED_MOST = 3_000;

async function used({ redis }: Pick<Setting, 'redis'>): Promise<number> {
  const raw = redis.connect();
  const info = await raw.info('memory');
  raw.disconnect();
  return Number(/used_memory_dataset:(\d+)/.exec(info)?.[1]);
}

/** What Redis holds for each batch of 12 frames: waiting, and with its plan. */
async function inRedis(count: number): Promise<Figure> {
  const redis = await TestRedis.start();
  const client = createClient({ connection: redis.url });
  const documents = Array.from({ length: count }, (_, i) => batchOf(`kept ${i}`, ['ash'], { frames: 12 }));
  try {
    // What Redis needs once, for a worker's scripts, is not a batch's.
    const early = await Killable.start(redis.url, { nowSlots: 2 });
    for (let i = 0; i < 5; i++) {
      await client.submit(batchOf(`first ${i}`, ['ash']));
      await client.result(`first ${i}`, { wait: 60_000 });
    }
    await early.end('SIGTERM');
    const before = await used({ redis });
    for (const document of documents) await client.submit(document);
    const queued = ((await used({ redis })) - before) / count;
    const worker = await Killable.start(redis.url, { nowSlots: 2, heapMb: 1_024, rssMb: 2_048 });
    for (const { id } of documents) await client.result(id, { wait: 600_000 });
    await worker.end('SIGTERM');
    const kept = ((await used({ redis })) - before) / count;
    return {
      what: `Redis's memory for each of ${count} batches of 12 frames`,
      queuedBytes: round(queued),
      keptBytes: round(kept),
      promised: [QUEUED_MOST, KEPT_MOST],
      kept: queued <= QUEUED_MOST && kept <= KEPT_MOST,
    };
  } finally {
    await client.close();
    await redis.end();
  }
}

export async function* memory(full: boolean): AsyncGenerator<Figure> {
  yield await inRedis(full ? 1_000 : 200);
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
