/** Keys, limits, and what is no proper request: problem details with catalogued codes, never a stack. */
import { connect } from 'node:net';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { catalogue } from '../../src/errors.js';
import { batchOf } from '../tools/batches.js';
import { STACK } from '../tools/cli.js';
import {
  ask,
  closeDoor,
  type DoorSetting,
  type Got,
  makeKey,
  openDoor,
  type TestDoor,
  testDoor,
} from '../tools/door.js';
import { TestRedis } from '../tools/redis.js';
import { until } from '../tools/service.js';

let setting: DoorSetting;
const more: TestDoor[] = [];

beforeAll(async () => {
  setting = await openDoor({ bodyMost: 65_536 });
});

afterAll(async () => {
  for (const door of more) await door.stop();
  await closeDoor(setting);
});

async function another(given: Parameters<typeof testDoor>[1]): Promise<TestDoor> {
  const door = await testDoor(setting.redis.url, given);
  more.push(door);
  return door;
}

function expectProblem(got: Got, status: number, code: string): void {
  expect([got.status, got.body?.code]).toEqual([status, code]);
  expect(got.headers.get('content-type')).toMatch(/^application\/problem\+json/);
  expect(got.body).toMatchObject({ status, type: `/v1/problems/${code}`, title: expect.any(String) });
  expect(Object.hasOwn(catalogue, code)).toBe(true);
  expect(got.text).not.toMatch(STACK);
}

/** Sends bytes as they are and gives the whole answer. */
function raw(url: string, bytes: string | Uint8Array): Promise<string> {
  const { hostname, port } = new URL(url);
  return new Promise((resolve, reject) => {
    const socket = connect(Number(port), hostname, () => socket.write(bytes));
    let text = '';
    socket.on('data', (chunk: Buffer) => {
      text += chunk.toString();
    });
    socket.on('close', () => resolve(text));
    socket.on('error', reject);
  });
}

describe('a request that is not understood', () => {
  it.each([
    ['GET', '/v1/nothing', {}, 404, 'PS_ROUTE'],
    ['PUT', '/v1/batches/x', {}, 405, 'PS_METHOD'],
    ['GET', '/v1/batches/never', {}, 404, 'PS_UNKNOWN'],
    ['GET', '/v1/batches/x%ff', {}, 400, 'PS_REQUEST'],
    ['GET', '/v1/batches/x/plan?form=png', {}, 400, 'PS_REQUEST'],
    ['GET', '/v1/batches/x/plan?form=json&form=text', {}, 400, 'PS_REQUEST'],
    ['POST', '/v1/batches', { body: '{' }, 400, 'PS_JSON'],
    ['POST', '/v1/batches', { body: '' }, 400, 'PS_JSON'],
    ['POST', '/v1/batches', { body: '{"a":1,"a":2}' }, 400, 'PS_JSON'],
    ['POST', '/v1/batches', { body: '[]' }, 422, 'PS_BATCH'],
    ['POST', '/v1/batches', { body: 'x', headers: { 'content-type': 'text/plain' } }, 415, 'PS_MEDIA'],
    [
      'POST',
      '/v1/batches',
      { body: '{}', headers: { 'content-type': 'application/json; charset=latin1' } },
      415,
      'PS_MEDIA',
    ],
    ['POST', '/v1/batches', { body: '{}', headers: { 'content-encoding': 'zstd' } }, 415, 'PS_MEDIA'],
    ['POST', '/v1/batches', { body: '{}', headers: { 'content-encoding': 'gzip' } }, 400, 'PS_REQUEST'],
    ['POST', '/v1/batches', { body: ' '.repeat(70_000) }, 413, 'PS_LARGE'],
    [
      'POST',
      '/v1/batches',
      { body: gzipSync(' '.repeat(9_000_000)), headers: { 'content-encoding': 'gzip' } },
      413,
      'PS_LARGE',
    ],
    ['POST', '/v1/rails', { body: { batch: 1, more: 2 } }, 400, 'PS_REQUEST'],
    ['POST', '/v1/saw-checks', { body: { batch: batchOf('x', ['ash']), gap: 'wide' } }, 422, 'PS_LENGTH'],
    ['GET', '/v1/problems/PS_NONE', {}, 404, 'PS_ROUTE'],
  ] as const)('%s %s %j: %i %s', async (method, path, given, status, code) => {
    expectProblem(await ask(setting.door, method, path, given), status, code);
  });

  it('says of each parameter what was given and what is allowed', async () => {
    const { body } = await ask(setting.door, 'GET', '/v1/batches/x/plan?form=png&partial=yes&more=1');
    expect(body.problems).toEqual([
      { path: 'query.more', given: '"1"', allowed: 'no such key; known here: form, partial, revision' },
      { path: 'query.form', given: '"png"', allowed: 'json or text or html or csv' },
      {
        path: 'query.partial',
        given: '"yes"',
        allowed: 'of a failed batch, what could be planned: true or false',
      },
    ]);
  });

  it('that is no HTTP is answered once and cut off', async () => {
    const nameless = 'GET /live HTTP/1.1\r\nConnection: close\r\n\r\n';
    expect(await raw(setting.door.url, nameless)).toMatch(/^HTTP\/1.1 400 .*PS_REQUEST.*headers.host/s);
    expect(await raw(setting.door.url, 'HELLO\r\n\r\n')).toMatch(/^HTTP\/1.1 400 .*PS_REQUEST/s);
    const long = `GET /live HTTP/1.1\r\nHost: localhost\r\nX: ${'x'.repeat(20_000)}\r\n\r\n`;
    expect(await raw(setting.door.url, long)).toMatch(/^HTTP\/1.1 431 .*PS_REQUEST/s);
  });
});

describe('whoever is slow', () => {
  it('is cut off, with the head or with the body', async () => {
    const door = await another({ timing: { head: 1_000, request: 2_000, idle: 3_000 } });
    const head = 'POST /v1/batches HTTP/1.1\r\nHost: localhost\r\n';
    const began = Date.now();
    expect(await raw(door.url, head)).toMatch(/^HTTP\/1.1 408 /);
    const body = await raw(door.url, `${head}Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{`);
    expect(body).toMatch(/^(HTTP\/1.1 4|$)/);
    expect(Date.now() - began).toBeLessThan(15_000);
  });
});

describe('whoever waits', () => {
  it('is not cut off for it', async () => {
    const door = await another({ timing: { head: 1_000, idle: 1_000 } });
    await ask(door, 'POST', '/v1/batches', { body: batchOf('awaited', ['ash'], { urgency: 'tonight' }) });
    const { status, body } = await ask(door, 'GET', '/v1/batches/awaited', { headers: { prefer: 'wait=3' } });
    expect([status, body.state]).toEqual([200, 'waiting']);
    await ask(door, 'DELETE', '/v1/batches/awaited');
  });
});

describe('without any key', () => {
  it('only this machine is served, under its own name', async () => {
    expect(setting.door.lines.some(({ msg }) => msg.includes('no key'))).toBe(true);
    const answer = await raw(
      setting.door.url,
      'GET /v1/me HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n',
    );
    expect(answer).toMatch(/^HTTP\/1.1 403 .*PS_SCOPE/s);
    expect((await ask(setting.door, 'GET', '/v1/me')).body.key).toBeNull();
  });

  it('a door that others could reach opens to them once there is one', async () => {
    const redis = await TestRedis.start();
    const door = await testDoor(redis.url, { host: '0.0.0.0' });
    try {
      expect(new URL(door.url).hostname).toBe('127.0.0.1');
      const { text } = await makeKey(redis.url);
      const end = Date.now() + 15_000;
      const open = (): string | undefined =>
        door.lines.find(({ msg }) => msg.startsWith('there is a key now'))?.listens as string | undefined;
      while (open() === undefined && Date.now() < end)
        await new Promise((resolve) => setTimeout(resolve, 50));
      const port = new URL(open()!).port;
      const url = `http://127.0.0.1:${port}`;
      expectProblem(await ask({ url }, 'GET', '/v1/me'), 401, 'PS_KEY');
      expect(
        (await ask({ url }, 'GET', '/v1/me', { headers: { authorization: `Bearer ${text}` } })).status,
      ).toBe(200);
    } finally {
      await door.stop();
      await redis.end();
    }
  });
});

describe('headers', () => {
  it('keep pages from doing what they should not; other origins only where named', async () => {
    const { headers } = await ask(setting.door, 'GET', '/v1/me', {
      headers: { origin: 'https://shop.example' },
    });
    expect(headers.get('x-content-type-options')).toBe('nosniff');
    expect(headers.get('content-security-policy')).toContain("default-src 'none'");
    expect(headers.get('access-control-allow-origin')).toBeNull();
    const door = await another({ origins: ['https://shop.example'] });
    const asked = async (origin: string): Promise<string | null> => {
      const got = await ask(door, 'OPTIONS', '/v1/batches', {
        headers: { origin, 'access-control-request-method': 'POST' },
      });
      return got.headers.get('access-control-allow-origin');
    };
    expect(await asked('https://shop.example')).toBe('https://shop.example');
    expect(await asked('https://evil.example')).not.toBe('https://evil.example');
  });
});

describe('limits', () => {
  it('are told with when to come again: requests in ten seconds, at once, batches that wait', async () => {
    const door = await another({ rate: 3 });
    const answers = await Promise.all(Array.from({ length: 5 }, () => ask(door, 'GET', '/v1/me')));
    expect(answers.map(({ status }) => status).sort((a, b) => a - b)).toEqual([200, 200, 200, 429, 429]);
    const late = answers.find(({ status }) => status === 429)!;
    expectProblem(late, 429, 'PS_RATE');
    expect(Number(late.headers.get('retry-after'))).toBeGreaterThan(0);
    const few = await another({ concurrent: 1, streams: 1 });
    await ask(few, 'POST', '/v1/batches', { body: batchOf('held', ['mute-2'], { timeLimit: 60 }) });
    const held = ask(few, 'GET', '/v1/batches/held', { headers: { prefer: 'wait=2' } });
    await new Promise((resolve) => setTimeout(resolve, 300));
    expectProblem(await ask(few, 'GET', '/v1/me'), 429, 'PS_RATE');
    expect((await held).status).toBe(200);
    const full = await another({ depth: 1 });
    // No worker of the tests serves the night.
    const night = (id: string) => ({ body: batchOf(id, ['ash'], { urgency: 'tonight' as const }) });
    expect((await ask(full, 'POST', '/v1/batches', night('first'))).status).toBe(202);
    await new Promise((resolve) => setTimeout(resolve, 1_100));
    expectProblem(await ask(full, 'POST', '/v1/batches', night('second')), 503, 'PS_BUSY');
    for (const id of ['held', 'first']) await ask(full, 'DELETE', `/v1/batches/${id}`);
  });

  it('a Redis that is away is 503, with when to come again', async () => {
    const redis = await TestRedis.start();
    const door = await testDoor(redis.url, { timing: { patience: 500 } });
    try {
      expect((await ask(door, 'GET', '/ready')).status).toBe(200);
      await redis.down();
      const got = await ask(door, 'GET', '/v1/batches/any');
      expectProblem(got, 503, 'PS_REDIS');
      expect(got.headers.get('retry-after')).toBe('5');
      expect((await ask(door, 'GET', '/ready')).status).toBe(503);
      expect((await ask(door, 'GET', '/ready')).body.why).toBe('Redis does not answer');
      expect((await ask(door, 'GET', '/live')).status).toBe(200);
      await redis.up();
      await until('the door is ready again', async () => (await ask(door, 'GET', '/ready')).status === 200);
      await ask(door, 'GET', '/v1/batches/never');
      const { text } = await ask(door, 'GET', '/metrics');
      expect(text).toMatch(/^pairstop_door_redis_up 1$/m);
      expect(text).toMatch(/^pairstop_door_refused_total\{code="PS_REDIS"\} 1$/m);
      expect(text).toMatch(/^pairstop_door_refused_total\{code="PS_UNKNOWN"\} 1$/m);
      for (const name of ['event_streams', 'thread_waiting', 'body_bytes', 'watched_batches']) {
        expect(text).toMatch(new RegExp(`^pairstop_door_${name} 0$`, 'm'));
      }
    } finally {
      await door.stop();
      await redis.end();
    }
  });
});

describe('a key', () => {
  it('is needed once there is one, does what its scopes say, for its shop, and not when revoked', async () => {
    const door = await another({});
    const reader = await makeKey(setting.redis.url, { scopes: ['read'] });
    const other = await makeKey(setting.redis.url, { shop: 'other', scopes: ['read', 'submit'] });
    const past = await makeKey(setting.redis.url, { ends: Date.now() - 1 });
    await new Promise((resolve) => setTimeout(resolve, 1_100));
    const as = (text: string) => ({ headers: { authorization: `Bearer ${text}` } });
    expectProblem(await ask(door, 'GET', '/v1/me'), 401, 'PS_KEY');
    expect((await ask(door, 'GET', '/v1/me')).headers.get('www-authenticate')).toMatch(/^Bearer/);
    const forged = `${reader.text.slice(0, -1)}${reader.text.endsWith('A') ? 'B' : 'A'}`;
    for (const text of [forged, past.text, 'psk_x', '', reader.text.replace(reader.id, 'ffffffffffff')]) {
      expectProblem(await ask(door, 'GET', '/v1/me', as(text)), 401, 'PS_KEY');
    }
    const me = await ask(door, 'GET', '/v1/me', as(reader.text));
    expect(me.body).toMatchObject({ key: reader.id, shop: 'pairstop', scopes: ['read'] });
    const submit = await ask(door, 'POST', '/v1/batches', {
      body: batchOf('kept', ['ash']),
      ...as(reader.text),
    });
    expectProblem(submit, 403, 'PS_SCOPE');
    expectProblem(await ask(door, 'GET', '/v1/service', as(reader.text)), 403, 'PS_SCOPE');
    const body = batchOf('theirs', ['ash']);
    expect((await ask(door, 'POST', '/v1/batches', { body, ...as(other.text) })).status).toBe(202);
    expectProblem(await ask(door, 'GET', '/v1/batches/theirs', as(reader.text)), 404, 'PS_UNKNOWN');
    expect((await ask(door, 'GET', '/v1/batches/theirs', as(other.text))).status).toBe(200);
    const shown =
      JSON.stringify(door.lines) + (await setting.redis.connect().hvals('pairstop:door:keys')).join('');
    for (const { text } of [reader, other]) expect(shown).not.toContain(text.slice(-43));
  });
});
