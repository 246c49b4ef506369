/** Webhooks: told at the end, signed, tried again, and never sent to where they may not go. */

import { once } from 'node:events';
import { createServer, type IncomingMessage, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Webhook } from 'standardwebhooks';
import { request } from 'undici';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebhookGuard } from '../../src/door/webhooks/guard.js';
import { addressTest } from '../../src/door/webhooks/networks.js';
import { batchOf } from '../tools/batches.js';
import { planted, REBINDING, REFUSED_LITERALS, REFUSED_NAMES } from '../tools/destinations.js';
import {
  ask,
  closeDoor,
  type DoorSetting,
  makeKey,
  openDoor,
  type TestDoor,
  testDoor,
} from '../tools/door.js';
import { until } from '../tools/service.js';

interface Received {
  readonly path: string;
  readonly headers: IncomingMessage['headers'];
  readonly body: string;
}

let setting: DoorSetting;
let door: TestDoor;
let receiver: Server;
let where: string;
const received: Received[] = [];
/** What each path answers, in turn; then 200. */
const answers = new Map<string, number[]>();

const QUICK = { retries: [100, 100, 100], sweep: 500, attempt: 2_000 };

beforeAll(async () => {
  receiver = createServer((asked, reply) => {
    let body = '';
    asked.on('data', (chunk: Buffer) => {
      body += chunk.toString();
    });
    asked.on('end', () => {
      received.push({ path: asked.url ?? '', headers: asked.headers, body });
      const status = answers.get(asked.url ?? '')?.shift() ?? 200;
      reply.writeHead(status, status === 302 ? { location: '/elsewhere' } : {}).end();
    });
  }).listen(0, '127.0.0.1');
  await once(receiver, 'listening');
  where = `http://127.0.0.1:${(receiver.address() as AddressInfo).port}`;
  setting = await openDoor({ networks: ['127.0.0.0/8'], timing: QUICK });
  door = await testDoor(setting.redis.url, { networks: ['127.0.0.0/8'], timing: QUICK });
});

afterAll(async () => {
  await door.stop();
  await closeDoor(setting);
  receiver.closeAllConnections();
  receiver.close();
});

const at = (path: string): Received[] => received.filter((one) => one.path === path);

async function add(path: string, more: object = {}): Promise<{ id: string; secret: string }> {
  const made = await ask(door, 'POST', '/v1/webhooks', { body: { url: `${where}${path}`, ...more } });
  expect(made.status).toBe(201);
  return made.body as unknown as { id: string; secret: string };
}

async function lastDelivery(id: string) {
  const { body } = await ask(door, 'GET', `/v1/webhooks/${id}/deliveries`);
  return (
    body.deliveries as unknown as {
      state: string;
      id: string;
      attempts: { status: number; error: string }[];
    }[]
  )[0];
}

describe('a webhook', () => {
  it('is told of the end of the batch that names it, once, and signed', async () => {
    const { id, secret } = await add('/named');
    const other = await add('/other');
    const body = batchOf('told', ['ash']);
    expect((await ask(door, 'POST', `/v1/batches?webhook=${id}`, { body })).status).toBe(202);
    await until('it is told', () => at('/named').length > 0, 60_000);
    // The same batch again, by a client that has not heard the answer: told already.
    await ask(door, 'POST', `/v1/batches?webhook=${id}`, { body });
    await ask(setting.door, 'POST', `/v1/batches?webhook=${id}`, { body });
    await new Promise((resolve) => setTimeout(resolve, 1_200));
    expect([at('/named').length, at('/other').length]).toEqual([1, 0]);
    const [{ headers, body: sent }] = at('/named') as [Received];
    const verified = new Webhook(secret).verify(sent, headers as Record<string, string>);
    expect(verified).toMatchObject({
      type: 'batch.done',
      data: { id: 'told', state: 'done', outcome: 'complete', links: { result: '/v1/batches/told/plan' } },
    });
    expect(() => new Webhook(other.secret).verify(sent, headers as Record<string, string>)).toThrow(
      /signature/i,
    );
    expect(await lastDelivery(id)).toMatchObject({
      state: 'delivered',
      attempts: [{ status: 200, error: null }],
    });
    const shown = (await ask(door, 'GET', `/v1/webhooks/${id}`)).text + JSON.stringify(door.lines);
    expect(shown).not.toContain(secret.slice(6));
  });

  it('is tried again until it answers, each attempt shown; 410 stops it; redirects are not followed', async () => {
    answers.set('/shaky', [500, 302]);
    const { id } = await add('/shaky');
    const { status, body } = await ask(door, 'POST', `/v1/webhooks/${id}/test`);
    expect([status, body]).toMatchObject([202, { attempts: [{ status: 500 }] }]);
    await until('delivered', async () => (await lastDelivery(id))?.state === 'delivered');
    const done = await lastDelivery(id);
    expect(done?.attempts.map(({ status }) => status)).toEqual([500, 302, 200]);
    expect(new Set(at('/shaky').map(({ headers }) => headers['webhook-id']))).toEqual(new Set([done?.id]));
    expect(at('/elsewhere')).toEqual([]);
    answers.set('/never', [500, 500, 500, 500, 500]);
    const never = await add('/never');
    await ask(door, 'POST', `/v1/webhooks/${never.id}/test`);
    await until('given up', async () => (await lastDelivery(never.id))?.state === 'failed');
    expect((await lastDelivery(never.id))?.attempts.length).toBe(4);
    answers.set('/gone', [410]);
    const gone = await add('/gone');
    await ask(door, 'POST', `/v1/webhooks/${gone.id}/test`);
    await until(
      'stopped',
      async () => (await ask(door, 'GET', `/v1/webhooks/${gone.id}`)).body.stopped !== null,
    );
    expect(
      (await ask(door, 'PUT', `/v1/webhooks/${gone.id}`, { body: { every: true } })).body.stopped,
    ).toBeNull();
    expect((await ask(door, 'DELETE', `/v1/webhooks/${gone.id}`)).status).toBe(204);
    expect((await ask(door, 'GET', `/v1/webhooks/${gone.id}`)).body.code).toBe('PS_WEBHOOK');
  });

  it('has its secret changed with an overlap, in which both sign', async () => {
    const { id, secret } = await add('/rotated');
    const { body } = await ask(door, 'POST', `/v1/webhooks/${id}/rotate?overlap=60`);
    const next = body.secret as unknown as string;
    expect(next).not.toBe(secret);
    await ask(door, 'POST', `/v1/webhooks/${id}/test`);
    await until('sent', () => at('/rotated').length === 1);
    for (const one of [secret, next]) {
      const [{ headers, body: sent }] = at('/rotated') as [Received];
      expect(new Webhook(one).verify(sent, headers as Record<string, string>)).toMatchObject({
        type: 'pairstop.test',
      });
    }
    await ask(door, 'POST', `/v1/webhooks/${id}/rotate?overlap=0`);
    await ask(door, 'POST', `/v1/webhooks/${id}/test`);
    await until('sent again', () => at('/rotated').length === 2);
    const [, { headers, body: sent }] = at('/rotated') as [Received, Received];
    expect(() => new Webhook(next).verify(sent, headers as Record<string, string>)).toThrow(/signature/i);
  });

  it('of a key is told of every batch handed in with it, though the door that took it is gone', async () => {
    const mine = await makeKey(setting.redis.url);
    const yours = await makeKey(setting.redis.url);
    const as = (key: { text: string }) => ({ authorization: `Bearer ${key.text}` });
    await new Promise((resolve) => setTimeout(resolve, 1_100));
    const body = { url: `${where}/every`, every: true, events: ['cancelled'] };
    expect((await ask(door, 'POST', '/v1/webhooks', { body, headers: as(mine) })).status).toBe(201);
    for (const [id, key] of [
      ['my night', mine],
      ['your night', yours],
    ] as const) {
      await ask(door, 'POST', '/v1/batches', {
        body: batchOf(id, ['ash'], { urgency: 'tonight' }),
        headers: as(key),
      });
    }
    await door.stop();
    for (const id of ['my night', 'your night']) {
      await ask(setting.door, 'DELETE', `/v1/batches/${encodeURIComponent(id)}`, { headers: as(mine) });
    }
    door = await testDoor(setting.redis.url, { networks: ['127.0.0.0/8'], timing: QUICK });
    await until('it is told', () => at('/every').length > 0, 30_000);
    expect(at('/every').map((one) => (JSON.parse(one.body) as { data: { id: string } }).data.id)).toEqual([
      'my night',
    ]);
  });
});

describe('destinations that are not public', () => {
  it('are refused when a webhook is made: addresses in every writing, other schemes, passwords', async () => {
    const guard = new WebhookGuard([]);
    for (const url of REFUSED_LITERALS) expect(() => guard.requireUrl(url)).toThrow(/may not be sent to/);
    for (const url of [
      'http://shop.example/x',
      'ftp://shop.example',
      'https://a:b@shop.example',
      'nonsense',
      'file:///etc/passwd',
    ]) {
      if (url.startsWith('http:')) expect(guard.requireUrl(url).protocol).toBe('http:');
      else expect(() => guard.requireUrl(url)).toThrow(/may not be sent to/);
    }
    expect(guard.requireUrl('https://8.8.8.8/hook').hostname).toBe('8.8.8.8');
    const made = await ask(setting.door, 'POST', '/v1/webhooks', {
      body: { url: 'https://10.0.0.1/x' },
      headers: { authorization: `Bearer ${(await makeKey(setting.redis.url)).text}` },
    });
    expect([made.status, made.body.code]).toEqual([422, 'PS_ADDRESS']);
  });

  it('are refused when they are connected to: 300 of them, names that stand for them and names that change', async () => {
    const guard = new WebhookGuard([], planted());
    const agent = guard.agent(2_000);
    const all = [
      ...REFUSED_LITERALS,
      ...REFUSED_NAMES,
      ...Array.from({ length: 5 }, () => REBINDING),
      'http://name-0.example/',
    ];
    expect(all.length).toBeGreaterThanOrEqual(300);
    const before = received.length;
    for (const url of all) {
      const got = await request(url, { dispatcher: agent, method: 'POST', body: '{}' }).then(
        () => 'sent',
        (error: Error) => error.message,
      );
      expect(`${url}: ${got}`).toMatch(/: .*not a public one/);
    }
    expect(received.length).toBe(before);
    await agent.destroy();
  });

  it('are those of the registries, and no others', () => {
    const open = addressTest([]);
    for (const address of [
      '1.1.1.1',
      '9.255.255.255',
      '11.0.0.0',
      '126.255.255.255',
      '128.0.0.0',
      '172.15.255.255',
      '172.32.0.0',
      '192.167.255.255',
      '192.169.0.0',
      '223.255.255.255',
      '2a00:1450::1',
      '2606:4700::1111',
    ]) {
      expect([address, open(address)]).toEqual([address, true]);
    }
    const own = addressTest(['10.1.0.0/16', 'fd00::/8']);
    expect([own('10.1.2.3'), own('10.2.0.1'), own('fd12::1'), own('fc00::1')]).toEqual([
      true,
      false,
      true,
      false,
    ]);
  });
});
