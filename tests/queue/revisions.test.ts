/** Ids that come again with other content: refused with what differs, replaced on request, free after an end without a plan. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Client } from '../../src/queue/client/client.js';
import { fingerprint } from '../../src/read/fingerprint.js';
import { batchOf } from '../tools/batches.js';
import { added, happen, rackAt } from '../tools/rack.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testClient, testWorker } from '../tools/service.js';
import { shopBatch, shopPieces } from '../tools/shop.js';

const WAIT = { wait: 40_000 };

let redis: TestRedis;
let worker: TestWorker | null = null;
let client: Client;

beforeAll(async () => {
  redis = await TestRedis.start();
  client = testClient(redis);
});

afterAll(async () => {
  await client.close();
  await worker?.stop();
  await redis.end();
});

/** A batch of one moulding; `width` is what differs. */
function batch(id: string, width: number, more: object = {}): BatchDocument {
  const document = batchOf(id, ['ash']);
  const [frame] = document.frames;
  const made = { ...document, frames: [{ ...frame!, width }], ...more } as BatchDocument;
  checkBatch(made);
  return made;
}

describe('before a worker has come', () => {
  it('a waiting batch is replaced, and only the new one is ever planned', async () => {
    await client.submit(batch('waits', 16));
    await expect(client.submit(batch('waits', 17))).rejects.toMatchObject({
      code: 'PS_CONFLICT',
      message: expect.stringContaining('give this one another id, or replace it: submit --replace') as string,
    });
    const changed = batch('waits', 17, { options: { urgency: 'tonight' } });
    expect(await client.submit(changed, { replace: true })).toMatchObject({
      outcome: 'replaced',
      state: 'waiting',
      revision: 2,
    });
    expect(await client.submit(changed, { replace: true })).toMatchObject({ outcome: 'same', revision: 2 });
    const { queues } = await client.service();
    expect([queues.now.batches.waiting, queues.tonight.batches.waiting]).toEqual([0, 1]);
    expect(await client.status('waits', { revision: 1 })).toMatchObject({ state: 'cancelled', revision: 1 });
  });

  it('a cancelled id is free for other content', async () => {
    await client.submit(batch('freed', 16));
    await client.cancel('freed');
    expect(await client.submit(batch('freed', 18))).toMatchObject({
      outcome: 'replaced',
      state: 'waiting',
      revision: 2,
    });
  });
});

describe('with a worker', () => {
  beforeAll(async () => {
    worker = await testWorker(redis.url, { tonightSlots: 1 });
  });

  it('what was replaced or freed before is planned with its new content', async () => {
    for (const [id, width] of [
      ['waits', 17],
      ['freed', 18],
    ] as const) {
      await client.result(id, WAIT);
      expect((await client.batch(id)).frames[0]).toMatchObject({ width });
    }
  });

  it('a conflict says what differs', async () => {
    await client.submit(batch('done', 16));
    const first = await client.result('done', WAIT);
    const error: unknown = await client
      .submit(batch('done', 17, { saw: { kerf: 3 } }))
      .catch((reason: unknown) => reason);
    expect(error).toMatchObject({
      code: 'PS_CONFLICT',
      message: expect.stringMatching(
        /is done; give[\s\S]*\nframes\[0\]\.width: 16 there, 17 here\nsaw: nothing there, an object with "kerf" here/,
      ) as string,
      problems: [
        { path: 'frames[0].width', given: '17', allowed: '16, as submitted before' },
        { path: 'saw' },
      ],
    });
    // Replaced, the earlier plan stays reachable.
    expect(await client.submit(batch('done', 17), { replace: true })).toMatchObject({
      outcome: 'replaced',
      revision: 2,
    });
    const second = await client.result('done', WAIT);
    expect(second).not.toEqual(first);
    expect(await client.result('done', { revision: 1 })).toEqual(first);
    expect(await client.result('done', { revision: 2 })).toEqual(second);
    expect(await client.batch('done', { revision: 1 })).toEqual(batch('done', 16));
    await expect(client.result('done', { revision: 3 })).rejects.toMatchObject({ code: 'PS_UNKNOWN' });
  });

  it('a running batch is replaced: its work ends, and nothing of it is published', async () => {
    const many = Array.from({ length: 60 }, (_, i) => ({
      id: `f${i}`,
      moulding: 'ash',
      quantity: 3,
      width: 108 + ((i * 7) % 31) / 3,
      height: 111 + ((i * 11) % 29) / 3,
    }));
    const long = batch('runs', 16, { frames: many, options: { timeLimit: 60 } });
    await client.submit(long);
    for await (const { state } of client.watch('runs', { timeout: 30_000 })) if (state !== 'waiting') break;
    const short = batch('runs', 16);
    await client.submit(short, { replace: true });
    const plan = await client.result('runs', WAIT);
    expect(plan.mouldings[0]!.sticks.flatMap(({ rails }) => rails.map(({ frame }) => frame))).not.toContain(
      'f0/1',
    );
    expect(await client.status('runs')).toMatchObject({
      state: 'done',
      revision: 2,
      fingerprint: fingerprint(short),
    });
  });

  it('lists batches newest first, page by page, by state and since', async () => {
    const all = await client.list();
    expect(all.batches.map(({ id }) => id)).toEqual(['runs', 'done', 'freed', 'waits']);
    expect(all.batches[1]).toMatchObject({ state: 'done', revision: 2, work: 'plan', outcome: 'complete' });
    const ids: string[] = [];
    for (let after: string | null | undefined; after !== null; ) {
      const page = await client.list({ limit: 1, ...(after !== undefined && { after }) });
      ids.push(...page.batches.map(({ id }) => id));
      after = page.next;
    }
    expect(ids).toEqual(['runs', 'done', 'freed', 'waits']);
    expect((await client.list({ state: 'cancelled' })).batches).toEqual([]);
    expect((await client.list({ since: all.batches[2]!.submitted })).batches).toHaveLength(3);
    await expect(client.list({ limit: 0 })).rejects.toMatchObject({ code: 'PS_USAGE' });
    await expect(client.list({ after: 'x' })).rejects.toMatchObject({ code: 'PS_USAGE' });
  });

  it('a plan from the rack is replaced until it is being cut; then it is not', async () => {
    const raw = redis.connect();
    await happen(rackAt(raw, 'pairstop'), [], shopPieces('pine', 2).map(added));
    raw.disconnect();
    const wide = shopBatch('rack', ['pine']);
    await client.submit(wide);
    await client.result('rack', WAIT);
    const [frame] = wide.frames;
    const narrow = { ...wide, frames: [{ ...frame!, width: 280 }] } as BatchDocument;
    expect(await client.submit(narrow, { replace: true })).toMatchObject({ outcome: 'replaced' });
    const { rack: taken = [] } = await client.result('rack', WAIT);
    expect(taken).toHaveLength(1);
    // What the earlier plan had reserved is free again.
    const reserved = (await client.rack.list({ batch: 'rack' })).map(({ id }) => id);
    expect(reserved).toEqual(taken.map(({ id }) => id));
    await client.rack.cut('rack');
    await expect(client.submit(wide, { replace: true })).rejects.toMatchObject({
      code: 'PS_CONFLICT',
      message: expect.stringContaining('is being cut, so it cannot be replaced') as string,
    });
  });
});
