/** The rack over HTTP: enter, plan, bad cut, cut, delivery, count; the audit balances after each step. */
import { afterAll, beforeAll, expect, it } from 'vitest';
import { ask, closeDoor, type DoorSetting, type Json, makeKey, openDoor } from '../tools/door.js';
import { shopBatch } from '../tools/shop.js';

let setting: DoorSetting;

beforeAll(async () => {
  setting = await openDoor();
});

afterAll(() => closeDoor(setting));

async function done(method: string, path: string, given: Parameters<typeof ask>[3] = {}): Promise<Json> {
  const { status, body, text } = await ask(setting.door, method, path, given);
  if (status >= 400) throw new Error(`${method} ${path}: ${status} ${text.slice(0, 400)}`);
  const audit = (await ask(setting.door, 'GET', '/v1/rack/audit')).body;
  expect([method, path, audit.ok, audit.findings]).toEqual([method, path, true, []]);
  return body;
}

interface Lies {
  readonly pieces: readonly { readonly id: string; readonly state: string; readonly length: number }[];
}

async function rack(query = ''): Promise<Lies['pieces']> {
  return ((await done('GET', `/v1/rack${query}`)) as unknown as Lies).pieces;
}

it('a piece goes its way through the door, and the wood balances', async () => {
  await done('POST', '/v1/rack', {
    body: 'id;moulding;length (mm);place\nr1;ash;1750;wall\nr2;ash;1750;wall\n',
    headers: { 'content-type': 'text/csv' },
  });
  const plan = await done('POST', '/v1/batches', {
    body: shopBatch('B', ['ash']),
    headers: { prefer: 'wait=60' },
  });
  expect(plan).toMatchObject({ batch: 'B', rack: [{ id: expect.stringMatching(/^r[12]$/) }] });

  // A rail is lost: the other piece is free, so nothing is bought, and it is held for the batch now.
  const made = await done('POST', '/v1/batches/B/recuts', { body: { lost: ['ash/1/top'] } });
  expect(made.recut).toMatchObject({ status: 'complete', buy: [] });
  expect((await rack()).map(({ state }) => state)).toEqual(['reserved', 'reserved']);
  const kept = await done('GET', made.self as unknown as string);
  expect(kept).toEqual(made.recut);

  const cut = await done('POST', '/v1/batches/B/cuts', {
    body: { recut: made.id, place: 'bench', why: 'Tuesday' },
  });
  expect(cut).toMatchObject({ batch: 'B', lengths: 'mm', rails: 4, spoiled: 1, begun: [] });
  const [offcut] = cut.offcuts as unknown as { id: string; code: string; length: number }[];
  expect(offcut?.code).toBe(`pairstop:rack/${encodeURIComponent(offcut?.id ?? '')}`);
  expect(offcut?.length).toBeGreaterThan(250);
  expect(await done('POST', '/v1/batches/B/cuts', { body: { recut: made.id } })).toMatchObject({ rails: 0 });
  const past = await done('GET', `/v1/rack/pieces/${encodeURIComponent(offcut?.id ?? '')}/history`);
  expect(past.entries).toMatchObject([{ event: { kind: 'cut', who: 'this machine', why: 'Tuesday' } }]);

  // The next batch buys; what is bought is expected, comes short by some, and is taken in.
  await done('POST', '/v1/batches', {
    body: shopBatch('C', ['ash'], { frames: 4 }),
    headers: { prefer: 'wait=60' },
  });
  const { expected } = (await done('GET', '/v1/rack/expected')) as unknown as {
    expected: { count: number; offer: string; length: number }[];
  };
  expect(expected).toMatchObject([{ offer: 'ash-24', length: 2_400 }]);
  const came = await done('POST', '/v1/batches/C/deliveries', {
    body: { offer: 'ash-24', count: 1, length: '2395 mm', flaws: [[0, 5]] },
  });
  expect(came).toMatchObject({ received: [{ length: 2_395 }] });
  expect((came.expected as unknown as { count: number }[])[0]?.count).toBe((expected[0]?.count ?? 0) - 1);
  await done('POST', '/v1/batches/C/deliveries', { body: { close: true } });
  expect(await done('GET', '/v1/rack/expected')).toMatchObject({ expected: [] });

  // Counted: the offcut is longer by 2 mm, and moved; the differences are told, then settled.
  const there = await rack();
  const pieces = there.map(({ id, length }) =>
    id === offcut?.id ? { id: offcut.code, length: length + 2, place: 'floor' } : { id },
  );
  const told = await done('POST', '/v1/rack/counts', { body: { pieces } });
  expect(told).toMatchObject({ settled: false, missing: [], moved: [{ id: offcut?.id, to: 'floor' }] });
  await done('POST', '/v1/rack/counts', { body: { pieces, settle: true } });
  expect((await done('POST', '/v1/rack/counts', { body: { pieces } })).measured).toEqual([]);
  const moved = await done('PATCH', `/v1/rack/pieces/${encodeURIComponent(offcut?.id ?? '')}`, {
    body: { place: 'wall' },
  });
  expect(moved).toMatchObject({ schema: 'pairstop/rack@1', pieces: [{ id: offcut?.id, place: 'wall' }] });
}, 120_000);

it('a key that may only read does not touch the rack', async () => {
  const { text } = await makeKey(setting.redis.url, { scopes: ['read'] });
  const headers = { authorization: `Bearer ${text}` };
  for (const [method, path, body] of [
    ['POST', '/v1/rack', {}],
    ['PATCH', '/v1/rack/pieces/r1', { place: 'x' }],
    ['DELETE', '/v1/rack/pieces/r1', undefined],
    ['POST', '/v1/batches/B/cuts', {}],
    ['POST', '/v1/batches/B/deliveries', {}],
    ['POST', '/v1/rack/counts', { pieces: [] }],
  ] as const) {
    const got = await ask(setting.door, method, path, { headers, ...(body === undefined ? {} : { body }) });
    expect([method, path, got.status, got.body.code]).toEqual([method, path, 403, 'PS_SCOPE']);
  }
  // A recut it may ask for, from what the batch has in hand alone.
  const before = (await ask(setting.door, 'GET', '/v1/rack', { headers })).text;
  const made = await ask(setting.door, 'POST', '/v1/batches/C/recuts', {
    headers,
    body: { lost: ['ash/1/top'] },
  });
  expect(made.status).toBe(201);
  expect((await ask(setting.door, 'GET', '/v1/rack', { headers })).text).toBe(before);
}, 60_000);
