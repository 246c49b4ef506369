/** Malformed, hostile and huge payloads placed on the queue. */
import { Queue } from 'bullmq';
import { catalogue } from '../../src/errors.js';
import { batchOf } from '../../tests/tools/batches.js';
import { hostilePayload } from '../../tests/tools/hostile.js';
import { seeded } from '../tools/random.js';
import { type Figure, round, sleep, withService } from './setting.js';

const CATALOGUED = new RegExp(`^(${Object.keys(catalogue).join('|')}): \\S`);

export async function* hostile(full: boolean): AsyncGenerator<Figure> {
  const count = full ? 10_000 : 1_000;
  yield await withService([{ nowSlots: 2 }], async ({ redis, client, workers }) => {
    const raw = redis.connect();
    const queue = new Queue('batch-now', { connection: raw, prefix: 'pairstop' });
    const random = seeded('hostile bench');
    const began = performance.now();
    for (let i = 0; i < count; i++) {
      const name = random.pick(['batch', 'batch', 'batch', 'other']);
      await queue.add(name, hostilePayload(random, `hostile-${i}`), { jobId: `stranger-${i}` });
    }
    for (;;) {
      const { wait = 0, active = 0, delayed = 0 } = await queue.getJobCounts('wait', 'active', 'delayed');
      if (wait + active + delayed === 0) break;
      await sleep(500);
    }
    const seconds = (performance.now() - began) / 1_000;
    let caught = 0;
    for (let i = 0; i < count; i++) {
      const job = await queue.getJob(`stranger-${i}`);
      if ((await job?.getState()) === 'failed' && CATALOGUED.test(job?.failedReason ?? '')) caught += 1;
    }
    await queue.close();
    raw.disconnect();
    await client.submit(batchOf('afterwards', ['ash']));
    const alive = (await client.result('afterwards', { wait: 60_000 })).status === 'complete';
    return {
      what: 'hostile payloads that ended as a failed job with a catalogued error',
      placed: count,
      caught,
      workerLives: alive && workers.every(({ exited }) => !exited),
      seconds: round(seconds),
      kept: caught === count && alive,
    };
  });
}
