/** Batches that are larger than the workers have memory for: refused with the number that fits, left to whoever can. */
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import { mostRails } from '../../src/processes/solver/memory.js';
import { batchOf } from '../tools/batches.js';
import { Killable } from '../tools/killable.js';
import { TestRedis } from '../tools/redis.js';
import { testClient, testWorker, until } from '../tools/service.js';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

const WAIT = { wait: 150_000 };
let redis: TestRedis;

beforeAll(async () => {
  redis = await TestRedis.start();
});

afterAll(() => redis.end());

/** Of so many rails, all of one size. */
function large(id: string, rails: number) {
  const document = batchOf(id, ['ash'], { frames: 1, timeLimit: 20 });
  return { ...document, frames: [{ ...document.frames[0]!, quantity: rails / 4 }] };
}

const text = (number: number): string => number.toLocaleString('en-US');

it('a batch beyond the memory of all workers is refused when it is submitted, with the number that fits', async () => {
  const client = testClient(redis, 'refused');
  const worker = await testWorker(redis.url, { prefix: 'refused', rssMb: 512 });
  const most = mostRails(512);
  await expect(client.submit(large('huge', 980_100))).rejects.toMatchObject({
    code: 'PS_LARGE',
    message: expect.stringContaining(`the batch has 980,100 rails; allowed: at most ${text(most)}`),
  });
  await expect(client.status('huge')).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
  await worker.stop();
  await client.close();
});

it('submitted while no worker lives, it fails as soon as one reads it', async () => {
  const client = testClient(redis, 'later');
  await client.submit(large('huge', 980_100));
  const worker = await testWorker(redis.url, { prefix: 'later', rssMb: 512 });
  await expect(client.result('huge', WAIT)).rejects.toMatchObject({
    code: 'PS_LARGE',
    message: expect.stringContaining(text(mostRails(512))),
  });
  await worker.stop();
  await client.close();
});

it('a worker with little memory leaves it to one that has more', async () => {
  const client = testClient(redis, 'left');
  const rails = 52_000;
  const little = await testWorker(redis.url, { prefix: 'left', rssMb: 200 });
  expect(mostRails(200)).toBeLessThan(rails);
  await expect(client.submit(large('large', rails))).rejects.toMatchObject({ code: 'PS_LARGE' });
  const ample = await Killable.start(redis.url, {
    prefix: 'left',
    rssMb: 1_024,
    timing: { heartbeat: 20_000 },
  });
  // It lives, and takes nothing yet: so the other one comes upon the batch first.
  ample.signal('SIGSTOP');
  await client.submit(large('large', rails));
  const left = (): boolean =>
    little.lines.some(({ msg }) => msg === 'batch left to a worker with more memory');
  await until('it is left', left, 60_000);
  ample.signal('SIGCONT');
  expect((await client.result('large', WAIT)).status).toBe('complete');
  // It may come upon the moulding too, and leaves that as well.
  expect(little.begun('ash')).toBeLessThanOrEqual(1);
  await little.stop();
  await ample.end('SIGTERM');
  await client.close();
});
