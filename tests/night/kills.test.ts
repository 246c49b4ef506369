/** Nights while workers and Redis are killed: each batch is planned in one night, and nothing waits for ever. */
import { expect, it } from 'vitest';
import { seeded } from '../../bench/tools/random.js';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { Killable } from '../tools/killable.js';
import { added, audited, happen, rackAt, rackPiece } from '../tools/rack.js';
import { TestRedis } from '../tools/redis.js';
import { testClient } from '../tools/service.js';
import { orderOf } from './orders.js';

const ORDERS = 12;

function pooledOrder(id: string, note: string): BatchDocument {
  return orderOf(id, { note, rack: 'shop', options: { timeLimit: 1, pool: true } });
}

it('loses no batch of a night and plans none twice, whoever dies', async () => {
  const { int, chance } = seeded('nights with kills');
  // Only what is written before it is answered is there after a kill.
  const redis = await TestRedis.start({ args: ['--appendfsync', 'always'] });
  const client = testClient(redis, 'pairstop', 60_000);
  const raw = redis.connect();
  const rack = rackAt(raw, 'pairstop');
  const pieces = Array.from({ length: 8 }, (_, i) =>
    rackPiece(`p${i}`, i % 2 === 0 ? 'ash' : 'oak', 2_900_000),
  );
  await happen(
    rack,
    pieces.map(({ id }) => id),
    pieces.map(added),
  );
  const running = [await Killable.start(redis.url), await Killable.start(redis.url)];
  try {
    await client.night.set({ atMost: 3 / 3_600 });
    for (let i = 0; i < ORDERS; i++) {
      const order = pooledOrder(`order-${i}`, 'first');
      if (chance(0.2)) await client.quote(order, { against: 'rack', hold: 60_000, wait: 60_000 });
      await client.submit(order);
      const other = `order-${int(0, i)}`;
      // In or out, never half: both are answers.
      if (chance(0.3))
        await client
          .cancel(other, { replan: chance(0.5) })
          .catch((error: { code?: string }) => expect(error.code).toBe('PS_CONFLICT'));
      if (chance(0.3)) {
        const again = client.submit(pooledOrder(other, 'second'), { replace: true });
        await again.catch((error: { code?: string }) => expect(error.code).toBe('PS_CONFLICT'));
      }
      if (chance(0.2)) await client.night.close();
      if (i % 5 === 3) {
        const at = int(0, 1);
        await running[at]!.end('SIGKILL');
        running[at] = await Killable.start(redis.url);
      }
      if (i === 8) {
        await redis.down();
        await redis.up();
      }
    }
    const seen = new Map<string, string>();
    for (let i = 0; i < ORDERS; i++) {
      const id = `order-${i}`;
      const { state } = await client.status(id);
      if (state === 'cancelled') continue;
      const plan = await client.result(id, { wait: 100_000 });
      expect(plan.batches!.filter(({ batch }) => batch === id).length).toBe(1);
      seen.set(plan.batch, [...(plan.batches ?? [])].map(({ batch }) => batch).join());
      expect((await client.status(id)).night).toBe(plan.batch);
    }
    // A batch is in one night of those there are, and each plan holds.
    const all = [...seen.values()].flatMap((ids) => ids.split(','));
    expect(new Set(all).size).toBe(all.length);
    for (const night of seen.keys()) {
      const plan = await client.result(night);
      expect(checkPlan(checkBatch(await client.batch(night)), plan).findings).toEqual([]);
      const reserved = (await client.rack.list({ batch: night })).map(({ id }) => id);
      expect(reserved.sort()).toEqual(plan.rack!.map(({ id }) => id).sort());
    }
    // Nothing else holds a piece: what was held for a quote went to its order's night, or is free.
    const states = (await client.rack.list()).flatMap(({ state }) =>
      state.kind === 'reserved' ? [state.batch] : [],
    );
    expect(states.filter((batch) => !seen.has(batch))).toEqual([]);
    expect((await audited(rack)).ok).toBe(true);
    expect(await client.night.status()).toMatchObject({ waiting: [], nights: [], closes: null });
  } finally {
    for (const worker of running) await worker.end('SIGKILL');
    raw.disconnect();
    await client.close();
    await redis.end();
  }
}, 240_000);
