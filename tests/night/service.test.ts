/** The pool through real queues: what waits there is planned once, as one, and nothing waits for ever. */

import { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { envelopeOf } from '../../src/processes/envelope.js';
import type { Client } from '../../src/queue/client/client.js';
import { jobIdOf } from '../../src/queue/names.js';
import { closingAfter } from '../../src/queue/night/schedule.js';
import { ask, testDoor } from '../tools/door.js';
import { added, audited, happen, rackAt, rackPiece } from '../tools/rack.js';
import { type OpenService, openService, type TestWorker, until } from '../tools/service.js';
import { orderOf } from './orders.js';

const WAIT = { wait: 50_000 };

let service: OpenService;
let raw: Redis;
let client: Client;
let worker: TestWorker;

beforeAll(async () => {
  service = await openService({ nowSlots: 2 });
  ({ raw, client, worker } = service);
});

afterAll(() => service.end());

function pooledOrder(id: string, more: Partial<BatchDocument> = {}): BatchDocument {
  return orderOf(id, { options: { timeLimit: 2, pool: true }, ...more });
}

describe('the pool', () => {
  it('keeps batches until it closes, and plans them as one', async () => {
    const ids = ['school', 'baker', 'smith'];
    for (const id of ids) expect((await client.submit(pooledOrder(id))).state).toBe('waiting');
    const before = await client.night.status();
    expect(before.waiting.map(({ id }) => id)).toEqual(ids);
    expect(Math.abs(before.closes! - before.opened! - 24 * 3_600_000)).toBeLessThan(5_000);
    expect((await client.submit(pooledOrder('baker'))).outcome).toBe('same');
    const closed = await client.night.close();
    expect(closed).toMatchObject({ batches: 3 });
    const plan = await client.result('baker', WAIT);
    expect(plan.batch).toBe(closed!.night);
    expect(plan.batches!.map(({ batch }) => batch)).toEqual(ids);
    expect(checkPlan(checkBatch(await client.batch(plan.batch)), plan).findings).toEqual([]);
    for (const id of ids) {
      expect(await client.status(id)).toMatchObject({
        state: 'done',
        outcome: 'complete',
        night: plan.batch,
      });
      expect(await client.result(id)).toEqual(plan);
      expect((await client.batch(id)).id).toBe(id);
    }
    expect((await client.status(plan.batch)).batches).toEqual(ids);
    expect(await client.night.close()).toBeNull();
    expect(await client.night.status()).toMatchObject({ waiting: [], nights: [], closes: null });
    // Known and done: nothing is planned again.
    expect(await client.submit(pooledOrder('school'))).toMatchObject({ outcome: 'same', state: 'done' });
    await expect(
      client.submit({ ...pooledOrder('school'), note: 'other' }, { replace: true }),
    ).rejects.toMatchObject({ code: 'PS_CONFLICT' });
  });

  it('lets go of a batch that is cancelled or replaced before it closes, or cancelled after', async () => {
    for (const id of ['a', 'b', 'c']) await client.submit(pooledOrder(id));
    expect(await client.cancel('a')).toBe('cancelled');
    const other = pooledOrder('b', { note: 'another' });
    expect((await client.submit(other, { replace: true })).outcome).toBe('replaced');
    await client.submit(pooledOrder('d'));
    await client.submit({ ...pooledOrder('d'), options: { timeLimit: 2 } }, { replace: true });
    expect((await client.night.status()).waiting.map(({ id }) => id).sort()).toEqual(['b', 'c']);
    // One that keeps a solver busy for longer than anybody waits here.
    const slow = { id: 'wait-40000', face: 30, rabbet: 6 };
    const frames = [{ id: 'f', moulding: slow.id, width: 300, height: 400 }];
    const offers = [{ id: 'slow-3', moulding: slow.id, length: 3000, price: 9 }];
    await client.submit(pooledOrder('slow', { mouldings: [slow], frames, offers }));
    const closed = await client.night.close();
    await until('its night is planned', async () => worker.begun(slow.id) > 0);
    await expect(client.submit(pooledOrder('b', { note: 'third' }), { replace: true })).rejects.toMatchObject(
      {
        code: 'PS_CONFLICT',
      },
    );
    expect(await client.cancel('slow')).toBe('cancelled');
    const plan = await client.result('b', WAIT);
    expect(plan.batch).toBe(closed!.night);
    expect(plan.batches!.map(({ batch }) => batch).sort()).toEqual(['b', 'c']);
    expect(checkPlan(checkBatch(await client.batch(plan.batch)), plan).findings).toEqual([]);
    expect((await client.result('d', WAIT)).batch).toBe('d');
    for (const id of ['a', 'slow']) expect((await client.status(id)).state).toBe('cancelled');
    // Tried again, it waits for the next.
    expect(await client.submit(pooledOrder('a'))).toMatchObject({ outcome: 'again', state: 'waiting' });
    await client.cancel('a');
    expect((await client.night.status()).closes).toBeNull();
  });

  it('closes by itself when it is time, also for a batch that no client of ours submitted', async () => {
    const queue = new Queue('batch-now', { connection: { url: service.redis.url }, prefix: 'pairstop' });
    const document = pooledOrder('foreign');
    await queue.add('batch', envelopeOf(document), { jobId: jobIdOf('foreign'), attempts: 3 });
    await until('it waits in the pool', async () => (await client.night.status()).waiting.length === 1);
    await client.submit(pooledOrder('own'));
    const status = await client.night.set({ atMost: 2 / 3_600 });
    expect(status.settings.atMost).toBeCloseTo(2 / 3_600);
    const plan = await client.result('foreign', WAIT);
    expect(plan.batches!.map(({ batch }) => batch)).toEqual(['foreign', 'own']);
    await client.night.set({ atMost: 24 });
    await queue.close();
  });

  it('cancels a night with all its batches, and reserves nothing of the rack then', async () => {
    const rack = rackAt(raw, 'pairstop');
    await happen(rack, ['p1'], [added(rackPiece('p1', 'ash', 2_950_000))]);
    const shop = { rack: 'shop' as const };
    for (const id of ['e', 'f']) await client.submit(pooledOrder(id, shop));
    const closed = await client.night.close();
    const plan = await client.result('e', WAIT);
    expect(plan.rack!.map(({ id }) => id)).toEqual(['p1']);
    const held = async (): Promise<readonly string[]> =>
      (await client.rack.list({ batch: closed!.night })).map(({ id }) => id);
    expect(await held()).toEqual(['p1']);
    // One of them leaves it: the other is planned again, with the same pieces at hand, and has its own page.
    await expect(client.cancel('e')).rejects.toThrow(/cancel --replan/);
    expect(await client.cancel('e', { replan: true })).toBe('cancelled');
    const alone = await client.result('f', WAIT);
    expect(alone.batch).toBe(closed!.night);
    expect(alone.batches!.map(({ batch, share }) => [batch, share])).toEqual([['f', alone.totals.cost]]);
    expect(await held()).toEqual(['p1']);
    const path = `/v1/batches/f`;
    const door = await testDoor(service.redis.url);
    const page = await ask(door, 'GET', `${path}/plan?form=text`);
    expect(page.text).toMatch(/^Batch f .*Its wood cost/s);
    const sheet = await ask(door, 'GET', `${path}/sheet`);
    expect(sheet.text).toContain('Whose it is');
    expect(sheet.text).toContain(`/v1/batches/${closed!.night}/recuts`);
    const marks = (text: string): readonly string[] => [...new Set(text.match(/\bf\/f\d/g))].sort();
    const labels = await ask(door, 'GET', `${path}/labels?size=63x38&grid=3x7`);
    expect(marks(labels.text)).toEqual(alone.batches![0]!.lines.map(({ frame }) => frame).sort());
    expect((await ask(door, 'GET', `${path}/lists/rails`)).text).toContain('f/f1/1/top');
    expect((await ask(door, 'DELETE', path)).body.code).toBe('PS_CONFLICT');
    await door.stop();
    expect(await client.cancel(closed!.night)).toBe('cancelled');
    expect(await held()).toEqual([]);
    expect((await client.status('f')).state).toBe('cancelled');
    // What is begun stays as it is planned.
    await client.submit(pooledOrder('f', shop));
    const next = await client.night.close();
    const begun = await client.result('f', WAIT);
    const piece = begun.mouldings.flatMap(({ sticks }) => sticks).find(({ ref }) => ref === 'p1')!;
    await client.rack.cut(next!.night, { told: [{ path: 'told', text: piece.rails[0]!.rail }] });
    await expect(client.cancel('f', { replan: true })).rejects.toThrow(/begun/);
    expect((await audited(rack)).ok).toBe(true);
  });

  it('makes two plans of batches that cannot be planned as one, under ids that are free', async () => {
    await client.submit(pooledOrder('thin'));
    await client.submit(pooledOrder('thick', { saw: { kerf: 5 } }));
    const next = Number(await raw.hget('pairstop:night:about', 'nights')) + 1;
    // Somebody has the id that the second plan would get, and that of the next night.
    const taken = orderOf(`night-${next}`, {});
    await client.submit(taken);
    await client.submit({ ...taken, id: `night-${next + 1}-2` });
    const closed = await client.night.close();
    expect(closed!.night).toBe(`night-${next + 1}`);
    const [thin, thick] = [await client.result('thin', WAIT), await client.result('thick', WAIT)];
    expect(thin.batch).toBe(`night-${next + 1}`);
    expect(thick.batch).toBe(`night-${next + 1}.2-2`);
    expect(thick.notices.map(({ code }) => code)).toContain('PS_APART');
  });
});

describe('when the pool closes', () => {
  const at = (text: string): number => Date.parse(text);
  const berlin = { close: '22:00', zone: 'Europe/Berlin', atMost: 72 * 3_600_000 };

  // Summer time in Berlin, 2026: 29 March to 25 October (EU directive 2000/84/EC).
  it.each([
    ['2026-11-26T12:00:00Z', '2026-11-26T21:00:00Z'],
    ['2026-11-26T21:00:00Z', '2026-11-27T21:00:00Z'],
    ['2026-07-01T12:00:00Z', '2026-07-01T20:00:00Z'],
    ['2026-10-24T21:00:00Z', '2026-10-25T21:00:00Z'],
    ['2026-03-28T22:30:00Z', '2026-03-29T20:00:00Z'],
  ])('of what comes at %s is %s', (now, closes) => {
    expect(new Date(closingAfter(at(now), berlin)).toISOString()).toBe(new Date(closes).toISOString());
  });

  it('is no later than a batch waits at most, and at a moment that exists', () => {
    const soon = { ...berlin, atMost: 3_600_000 };
    expect(closingAfter(at('2026-11-26T12:00:00Z'), soon)).toBe(at('2026-11-26T13:00:00Z'));
    // 02:30 does not exist on 29 March.
    const gap = closingAfter(at('2026-03-28T12:00:00Z'), { ...berlin, close: '02:30' });
    expect(gap).toBeGreaterThanOrEqual(at('2026-03-29T00:30:00Z'));
    expect(gap).toBeLessThanOrEqual(at('2026-03-29T01:30:00Z'));
  });
});
