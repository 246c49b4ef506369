/**
 * A program that is not this one: plain BullMQ, a hash of Redis, SHA-256 and raw deflate (RFC 1951), by what
 * DEVELOPERS.md says of them and nothing else.
 */
import { createHash } from 'node:crypto';
import { inflateRawSync } from 'node:zlib';
import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { readPlan } from '../../src/documents/plan/read.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testWorker, until } from '../tools/service.js';

let redis: TestRedis;
let raw: Redis;
let worker: TestWorker;

beforeAll(async () => {
  redis = await TestRedis.start();
  raw = redis.connect();
  worker = await testWorker(redis.url, { nowSlots: 1, tonightSlots: 1 });
});

afterAll(async () => {
  await worker.stop();
  raw.disconnect();
  await redis.end();
});

async function ask(queueName: string, id: string, payload: object): Promise<Record<string, Buffer>> {
  const queue = new Queue(queueName, { connection: raw, prefix: 'pairstop' });
  const jobId = `b-${encodeURIComponent(id)}`;
  await queue.add('batch', payload, { jobId, attempts: 3 });
  await queue.close();
  const key = `pairstop:store:${jobId}`;
  await until('it is over', async () =>
    ['done', 'failed', 'cancelled'].includes((await raw.hget(key, 'state')) ?? ''),
  );
  return raw.hgetallBuffer(key);
}

function open(sealed: Buffer, fingerprint: string): string {
  expect(sealed.subarray(0, 4).toString()).toBe('PS1\n');
  const json = inflateRawSync(sealed.subarray(36));
  const digest = createHash('sha256').update(`plan\n${fingerprint}\n\n`).update(json).digest();
  expect(digest.equals(sealed.subarray(4, 36))).toBe(true);
  return json.toString();
}

it.each(['batch-now', 'batch-tonight'])('has its plan by way of %s', async (queue) => {
  const document = batchOf(`spring show/${queue}`, ['ash', 'oak'], {
    urgency: queue === 'batch-now' ? 'now' : 'tonight',
  });
  const record = await ask(queue, document.id, { schema: 'pairstop/job@1', batch: document });
  expect(record.state?.toString()).toBe('done');
  expect(record.status?.toString()).toBe('complete');
  const plan = open(record.plan ?? Buffer.alloc(0), record.fingerprint?.toString() ?? '');
  expect(checkPlan(checkBatch(document), readPlan(plan))).toMatchObject({ ok: true });
});

it('learns why a batch came to nothing', async () => {
  // The planted solver leaves its process whenever it meets this moulding.
  const document = batchOf('poison', ['exit']);
  const record = await ask('batch-now', document.id, { schema: 'pairstop/job@1', batch: document });
  expect(record.state?.toString()).toBe('failed');
  expect(JSON.parse(record.failure?.toString() ?? '')).toMatchObject({
    code: expect.stringMatching(/^PS_/),
    message: expect.stringMatching(/\S/),
  });
});

it('has a batch that is refused as a failed job, which says why', async () => {
  const queue = new Queue('batch-now', { connection: raw, prefix: 'pairstop' });
  const payload = { schema: 'pairstop/job@1', batch: { id: 7 } };
  const job = await queue.add('batch', payload, { jobId: 'b-wrong' });
  await until('it has failed', async () => (await job.getState()) === 'failed');
  expect((await queue.getJob('b-wrong'))?.failedReason).toMatch(/^PS_BATCH: /);
  await queue.close();
});
