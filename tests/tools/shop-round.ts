/** All that a shop does through Redis in a week, once: what the rights of its user are held against. */
import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { KeyRing, SCOPES } from '../../src/door/keys/keys.js';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { Session } from '../../src/queue/client/session.js';
import { exportShop, importShop } from '../../src/queue/client/shop.js';
import { auditTrail, clearFailedJobs, purgeBatch } from '../../src/queue/client/upkeep.js';
import { jobIdOf } from '../../src/queue/names.js';
import { batchOf } from './batches.js';
import { ask, testDoor } from './door.js';
import { type TestWorker, testWorker, until } from './service.js';

const WAIT = { wait: 90_000 };

function must(holds: boolean, what: string): void {
  if (!holds) throw new Error(`the round went otherwise: ${what}`);
}

async function codeOf(promise: Promise<unknown>): Promise<unknown> {
  return promise.then(
    () => null,
    (error: unknown) => Reflect.get(Object(error), 'code'),
  );
}

async function batches(client: Client, worker: TestWorker): Promise<void> {
  await client.submit(batchOf('plain', ['ash', 'oak']));
  await client.submit(batchOf('late', ['ash'], { notBefore: new Date(Date.now() + 1_500).toISOString() }));
  await client.submit(batchOf('failed', ['exit']));
  await client.submit(batchOf('long', ['hang'], { frames: 100 }));
  await client.submit(batchOf('compared', ['ash']), { work: 'compare' });
  for (const id of ['plain', 'late']) await client.result(id, WAIT);
  await client.comparison('compared', WAIT);
  must((await codeOf(client.result('failed', WAIT))) === 'PS_FAILED', 'a batch that cannot be planned');
  await client.submit(batchOf('failed', ['exit']));
  must((await codeOf(client.result('failed', WAIT))) === 'PS_FAILED', 'tried again');
  await until('it runs', () => worker.begun('hang') === 1, 60_000);
  await client.submit(batchOf('long', ['ash']), { replace: true });
  await client.result('long', WAIT);
  await client.submit(batchOf('stopped', ['wait-20000']));
  await client.cancel('stopped');
  for await (const status of client.watch('plain')) must(status.id === 'plain', 'watching');
  await client.list();
  await client.service();
}

async function rack(client: Client): Promise<void> {
  const length = 2_000_000;
  await client.rack.add(['r1', 'r2', 'r3', 'r4'].map((id) => ({ id, moulding: 'ash', length })));
  await client.rack.move(['r1'], 'left bay');
  await client.rack.edit('r4', { place: 'right bay' });
  await client.rack.remove(['r4']);
  await client.submit({ ...batchOf('from-rack', ['ash']), rack: 'shop' });
  const plan = await client.result('from-rack', WAIT);
  await client.rack.recut('from-rack', { lost: [plan.mouldings[0]!.sticks[0]!.rails[0]!.rail] });
  await client.rack.cut('from-rack');
  await client.rack.count([{ id: 'r3', moulding: 'ash', length }], { moulding: 'ash', settle: true });
  await client.rack.list();
  await client.rack.audit();
  await client.rack.history('r1');
  await client.submit({ ...batchOf('let-go', ['ash'], { frames: 8 }), rack: 'shop' });
  await client.result('let-go', WAIT);
  await client.rack.receive('let-go');
  await client.cancel('let-go');
  await client.rack.add([{ id: 'r9', moulding: 'ash', length }]);
  const order = { ...batchOf('quoted', ['ash'], { frames: 1 }), rack: 'shop' as const };
  await client.quote(order, { against: 'rack', hold: 60_000 });
  await client.submit(order);
  await client.result('quoted', WAIT);
  const lines: string[] = [];
  for await (const line of client.rack.backup()) lines.push(line);
}

async function night(client: Client): Promise<void> {
  await client.night.set({ close: '22:00', zone: 'Europe/Berlin', atMost: 24 });
  for (const id of ['a', 'b', 'c']) {
    const document = batchOf(`pooled-${id}`, ['ash']);
    await client.submit({ ...document, options: { ...document.options, pool: true } });
  }
  await client.quote(batchOf('asked', ['ash']));
  await client.cancel('pooled-c');
  await client.night.close();
  await client.result('pooled-a', WAIT);
  await client.night.status();
}

async function door(url: string, prefix: string, client: Client): Promise<void> {
  const open = await testDoor(url, { prefix, networks: ['127.0.0.0/8'] });
  const session = new Session({ connection: url, prefix, patience: 10_000, retention: 60_000, who: 'tests' });
  try {
    const ring = new KeyRing(session, prefix);
    const { key, text } = await ring.make({
      name: 'a',
      shop: prefix,
      scopes: [...SCOPES],
      ends: null,
      rate: null,
    });
    const headers = { authorization: `Bearer ${text}` };
    let told = 0;
    const receiver = createServer((_request, response) => {
      told += 1;
      response.end();
    }).listen(0, '127.0.0.1');
    await once(receiver, 'listening');
    const hook = { url: `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/told`, every: true };
    must(
      (await ask(open, 'POST', '/v1/webhooks', { body: hook, headers })).text.includes('"secret"'),
      'a webhook',
    );
    const sent = await ask(open, 'POST', '/v1/batches', { body: batchOf('by-door', ['ash']), headers });
    must(sent.status < 300, 'a batch by the door');
    await client.result('by-door', WAIT);
    must(
      (await ask(open, 'GET', '/v1/batches/by-door/plan', { headers })).status === 200,
      'a plan by the door',
    );
    await until('the webhook is told', () => told > 0, 60_000);
    receiver.close();
    await ring.list();
    await ring.revoke(key.id);
  } finally {
    await session.close();
    await open.stop();
  }
}

/** Everything lies under `prefix` in the end, and a copy of the shop under `copy`. Throws where anything goes otherwise. */
export async function shopRound(url: string, prefix = 'pairstop', copy = 'copy'): Promise<void> {
  const own = { connection: url, prefix, patience: 10_000, retention: 60_000, who: 'tests' };
  const worker = await testWorker(url, { prefix, attempts: 1, http: { host: '127.0.0.1', port: 0 } });
  const client = createClient(own);
  const session = new Session(own);
  try {
    await batches(client, worker);
    await session.ask('reading', () => auditTrail(session.redis, session.keys, 10));
    await session.ask('clearing', () => clearFailedJobs(session.queues));
    await purgeBatch(session.store, session.queues, jobIdOf('failed'), 'tests');
    await fetch(`http://127.0.0.1:${worker.port}/metrics`);
    await rack(client);
    await night(client);
    await door(url, prefix, client);
    const lines: string[] = [];
    for await (const text of exportShop(session)) lines.push(text);
    const to = new Session({ ...own, prefix: copy });
    const other = createClient({ ...own, prefix: copy });
    await importShop(to, other, lines.join(''));
    await to.close();
    await other.close();
  } finally {
    await client.close();
    await session.close();
    await worker.stop();
  }
}
