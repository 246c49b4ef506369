/** What one more order adds: against planning both sides again, and through the queue. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { checkMade } from '../../src/documents/made.js';
import { quoteSchema } from '../../src/documents/quote/schema.js';
import { quoteBatch } from '../../src/processes/quote-batch.js';
import type { Client } from '../../src/queue/client/client.js';
import { jobIdOf, keysOf } from '../../src/queue/names.js';
import { showQuote } from '../../src/show/quote.js';
import { added, audited, happen, rackAt, rackPiece } from '../tools/rack.js';
import { TestRedis } from '../tools/redis.js';
import { type TestWorker, testClient, testWorker, until } from '../tools/service.js';
import { orderOf, plannedHere, pooled } from './orders.js';

const cents = (money: number): number => Math.round(money * 100);
const bound = (plan: ReturnType<typeof plannedHere>): number =>
  plan.mouldings.reduce((sum, { proof }) => sum + cents(proof.bound), 0);

describe('a quote', () => {
  it('is the difference of two plans, as sure as their bounds', async () => {
    const night = ['school', 'baker', 'smith'].map((id) => orderOf(id));
    const order = orderOf('one-more');
    const quote = await quoteBatch(order, { against: 'night', night });
    // Both sides again, all mouldings, by the same planner but not the same code: the definition.
    const [without, withIt] = [plannedHere(pooled(night)), plannedHere(pooled([...night, order]))];
    const { value, least, most } = quote.money;
    expect(cents(value)).toBe(cents(withIt.totals.cost) - cents(without.totals.cost));
    // What it adds at least can be no more than any two plans differ by.
    expect(cents(least)).toBeLessThanOrEqual(cents(withIt.totals.cost) - bound(without));
    expect(cents(most)).toBeGreaterThanOrEqual(bound(withIt) - cents(without.totals.cost));
    expect(least).toBeLessThanOrEqual(value);
    expect(value).toBeLessThanOrEqual(most);
    expect(quote.sticks).toBe(withIt.totals.sticks - without.totals.sticks);
    const rails = withIt.batches!.find(({ batch }) => batch === 'one-more')!.railLength;
    expect(quote.railLength).toBeCloseTo(rails, 3);
    expect(quote.beside).toMatchObject({ batches: 3, pieces: 0 });
    // Two cuts, two swings and a label for each of its rails; 10 s, 6 s and 5 s are what a batch without times is given.
    const own = withIt.mouldings.flatMap(({ sticks }) => sticks.flatMap(({ rails: all }) => all));
    expect(quote.railSeconds).toBe(own.filter(({ frame }) => frame.startsWith('one-more/')).length * 37);
    expect(quote.seconds).toBeCloseTo(withIt.totals.seconds! - without.totals.seconds!, -3);
    expect(checkMade(quote, 'pairstop/quote@1', quoteSchema)).toEqual(quote);
    const page = showQuote(checkBatch(order), quote);
    expect(page).toContain('on top of 3 batches in the pool');
    expect(page).toContain(value.toFixed(2));
  });

  it('adds to nothing what the order costs alone', async () => {
    const order = orderOf('alone');
    const quote = await quoteBatch(order);
    expect(cents(quote.money.value)).toBe(cents(plannedHere(order).totals.cost));
    expect(quote).toMatchObject({ against: 'nothing', sure: 'proven', status: 'complete', held: null });
  });

  it('says what cannot be made of the order, and of no other', async () => {
    const sticks = [{ id: 'r', moulding: 'ash', length: 2700 }];
    const short = (id: string): BatchDocument =>
      orderOf(id, {
        frames: [{ id: 'f', moulding: 'ash', width: 500, height: 600 }],
        offers: [],
        sticks,
      });
    const quote = await quoteBatch(short('b'), { against: 'night', night: [short('a')] });
    expect(quote).toMatchObject({ status: 'short', frames: 1 });
    expect(quote.missing.length).toBeLessThanOrEqual(1);
  });
});

describe('a quote through the queue', () => {
  let redis: TestRedis;
  let client: Client;
  let worker: TestWorker;

  beforeAll(async () => {
    redis = await TestRedis.start();
    client = testClient(redis);
    worker = await testWorker(redis.url, { nowSlots: 2 });
  });

  afterAll(async () => {
    await worker.stop();
    await client.close();
    await redis.end();
  });

  it('knows the pool and the rack, and reserves nothing unless asked', async () => {
    const raw = redis.connect();
    const rack = rackAt(raw, 'pairstop');
    await happen(
      rack,
      ['p1', 'p2'],
      [added(rackPiece('p1', 'ash', 2_900_000)), added(rackPiece('p2', 'oak', 2_900_000))],
    );
    await client.submit(orderOf('waits', { options: { timeLimit: 2, pool: true } }));
    const order = orderOf('asks', { rack: 'shop' });
    const alone = await client.quote(order, { against: 'nothing' });
    const plain = await client.quote(orderOf('asks'), { against: 'night' });
    expect(plain.beside.batches).toBe(1);
    expect((await client.rack.list()).every(({ state }) => state.kind === 'free')).toBe(true);
    const held = await client.quote(order, { against: 'rack', hold: 60_000 });
    expect(held.money.value).toBeLessThanOrEqual(alone.money.value);
    const own = orderOf('own', { sticks: [{ id: 's', moulding: 'ash', length: 2000 }] });
    expect((await client.quote(own, { against: 'rack', hold: 60_000 })).held).toBeNull();
    expect(await raw.exists(keysOf('pairstop').record(jobIdOf('hold/own')))).toBe(0);
    expect(held.rackLength).toBeGreaterThan(0);
    const kept = new Set(held.held!.pieces);
    // A hold is no batch, so a list does not show it.
    expect((await client.list()).batches.map(({ id }) => id)).toEqual(['waits']);
    expect(kept.size).toBeGreaterThan(0);
    const states = new Map((await client.rack.list()).map(({ id, state }) => [id, state.kind]));
    for (const id of kept) expect(states.get(id)).toBe('reserved');
    // The order itself is planned from what was held for it: while it waits in the pool nobody else takes any of it, and
    // what it does not need in the end is free then.
    await client.submit({ ...order, options: { timeLimit: 2, pool: true } });
    const holds = async (batch: string): Promise<readonly string[]> =>
      (await client.rack.list({ batch })).map(({ id }) => id).sort();
    expect(await holds(held.held!.id)).toEqual([...kept].sort());
    await client.submit(orderOf('rival', { rack: 'shop' }));
    const rival = await client.result('rival', { wait: 50_000 });
    expect(rival.rack!.filter(({ id }) => kept.has(id))).toEqual([]);
    await client.night.close();
    const plan = await client.result('asks', { wait: 50_000 });
    const taken = plan.rack!.map(({ id }) => id);
    expect(taken.length).toBeGreaterThan(0);
    expect(await holds(plan.batch)).toEqual([...taken].sort());
    expect(await holds(held.held!.id)).toEqual([]);
    expect((await audited(rack)).ok).toBe(true);
    await client.cancel(plan.batch);
    // One that is cancelled lets go of what was held for it.
    expect((await client.quote(order, { against: 'rack', hold: 60_000 })).held).not.toBeNull();
    await client.submit({ ...order, options: { timeLimit: 2, pool: true } });
    await client.cancel('asks');
    expect((await client.rack.list()).every(({ state }) => state.kind === 'free')).toBe(true);
    // And what nobody submits is free again when its time is over.
    const brief = await client.quote(order, { against: 'rack', hold: 1_000 });
    expect(brief.held!.pieces.length).toBeGreaterThan(0);
    await until('the hold is over', async () =>
      (await client.rack.list()).every(({ state }) => state.kind === 'free'),
    );
    expect((await audited(rack)).ok).toBe(true);
    await expect(client.quote({ ...order, units: 'ft' } as unknown as BatchDocument)).rejects.toMatchObject({
      code: 'PS_BATCH',
    });
    raw.disconnect();
  }, 120_000);
});
