/** Records of earlier versions are read and finished by this one. Fixtures: `tests/tools/write-record-fixture.ts`. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { batchOf } from '../tools/batches.js';
import { TestRedis } from '../tools/redis.js';
import { testClient, testWorker, until } from '../tools/service.js';
import { loadShop } from '../tools/shop-dump.js';

const OLD = readFileSync(new URL('../fixtures/records-0.1.0.jsonl', import.meta.url), 'utf8');

describe('a shop left by version 0.1.0', () => {
  it('is read, goes on where it stopped, and knows what was submitted', async () => {
    const redis = await TestRedis.start();
    const raw = redis.connect();
    await loadShop(raw, OLD);
    const client = testClient(redis);
    try {
      const states = async (ids: readonly string[]): Promise<readonly string[]> =>
        Promise.all(ids.map(async (id) => (await client.status(id)).state));
      expect(await states(['done', 'failed', 'cancelled', 'begun', 'waiting', 'tonight'])).toEqual([
        'done',
        'failed',
        'cancelled',
        'running',
        'waiting',
        'waiting',
      ]);
      const done = batchOf('done', ['ash', 'oak']);
      expect(checkPlan(checkBatch(done), await client.result('done')).total).toBe(0);
      expect((await client.submit(done)).outcome).toBe('same');
      expect((await client.result('failed', { partial: true })).status).toBe('short');
      expect((await client.comparison('compared')).batch).toBe('compared');
      const worker = await testWorker(redis.url, { tonightSlots: 1 });
      const begun = batchOf('begun', ['wait-1500', 'pine'], { timeLimit: 60 });
      for (const document of [begun, batchOf('waiting', ['ash']), batchOf('tonight', ['ash'])]) {
        const plan = await client.result(document.id, { wait: 30_000 });
        expect(checkPlan(checkBatch(document), plan).total).toBe(0);
      }
      const resumed = worker.lines.find(
        (line) => line.msg === 'moulding begun' && line.moulding === 'wait-1500',
      );
      expect(resumed).toMatchObject({ resumed: true });
      expect((await client.submit(batchOf('cancelled', ['wait-20000']))).outcome).toBe('again');
      await client.cancel('cancelled');
      await until('nothing is in hand', async () => (await client.status('cancelled')).state === 'cancelled');
      await worker.stop();
    } finally {
      await client.close();
      raw.disconnect();
      await redis.end();
    }
  });
});
