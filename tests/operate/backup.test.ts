/** A shop brought back: from a copy of Redis's folder, from a dump.rdb, and from what `pairstop export` wrote. */
import { cpSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { batchOf } from '../tools/batches.js';
import { ask, makeKey, testDoor } from '../tools/door.js';
import { TestRedis } from '../tools/redis.js';
import { testWorker, until } from '../tools/service.js';
import { MAIN, ShopProcess, TempFolder } from '../tools/shop-process.js';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

const WAIT = { wait: 150_000 };
const DONE = ['first', 'second', 'from the rack'];
const folder = new TempFolder();
let redis: TestRedis;
let key: string;
/** Each plan as `pairstop result` writes it, and what the rack's audit says. */
let plans: ReadonlyMap<string, string>;
let audit: string;

async function cli(url: string, args: readonly string[]): Promise<{ code: number | null; text: string }> {
  const command = [process.execPath, MAIN, ...args].map((arg) => `'${arg}'`).join(' ');
  const one = new ShopProcess('sh', ['-c', `${command} >&2`], { REDIS_URL: url });
  await until('it ends', () => one.exited, 90_000);
  return { code: one.exitCode, text: one.err };
}

async function plansOf(url: string): Promise<Map<string, string>> {
  const found = new Map<string, string>();
  for (const id of DONE) {
    const path = join(folder.path, 'plan.json');
    expect((await cli(url, ['result', id, '--out', path])).code).toBe(0);
    found.set(id, readFileSync(path, 'utf8'));
  }
  return found;
}

/** The shop at this address is the one that was backed up, and goes on. */
async function isWhole(url: string): Promise<void> {
  expect(await plansOf(url)).toEqual(plans);
  expect((await cli(url, ['rack', 'audit'])).text).toBe(audit);
  const door = await testDoor(url);
  const headers = { authorization: `Bearer ${key}` };
  expect((await ask(door, 'GET', '/v1/batches/first', { headers })).status).toBe(200);
  expect((await ask(door, 'GET', '/v1/batches/first')).status).toBe(401);
  await door.stop();
  const client = createClient({ connection: url });
  const worker = await testWorker(url);
  expect((await client.result('unfinished', WAIT)).status).toBe('complete');
  await worker.stop();
  await client.close();
}

beforeAll(async () => {
  redis = await TestRedis.start();
  const client: Client = createClient({ connection: redis.url });
  const worker = await testWorker(redis.url);
  await client.rack.add([
    { id: 'r1', moulding: 'ash', length: 2_100_000 },
    { id: 'r2', moulding: 'ash', length: 900_000 },
  ]);
  await client.submit(batchOf('first', ['ash', 'oak']));
  await client.submit(batchOf('second', ['elm'], { frames: 5 }));
  await client.submit({ ...batchOf('from the rack', ['ash']), rack: 'shop' });
  for (const id of DONE) await client.result(id, WAIT);
  key = (await makeKey(redis.url)).text;
  await worker.stop();
  await client.submit(batchOf('unfinished', ['oak']));
  await client.close();
  plans = await plansOf(redis.url);
  const { code, text } = await cli(redis.url, ['rack', 'audit']);
  if (code !== 0) throw new Error(`the rack does not balance: ${text}`);
  audit = text;
});

afterAll(async () => {
  await ShopProcess.endAll();
  await redis.end();
  folder.remove();
});

describe('a shop comes back whole', () => {
  it('from a copy of the append-only folder', async () => {
    const copy = await TestRedis.start({
      before: (there) =>
        cpSync(join(redis.folder, 'appendonlydir'), join(there, 'appendonlydir'), { recursive: true }),
    });
    await isWhole(copy.url);
    await copy.end();
  });

  it('from a dump.rdb, only when Redis reads it before it keeps a file of its own', async () => {
    const raw = redis.connect();
    await raw.save();
    raw.disconnect();
    const before = (there: string): void => cpSync(join(redis.folder, 'dump.rdb'), join(there, 'dump.rdb'));
    // As the README starts Redis: the dump is ignored.
    const ignored = await TestRedis.start({ before });
    const empty = ignored.connect();
    expect(await empty.dbsize()).toBe(0);
    empty.disconnect();
    await ignored.end();

    const read = await TestRedis.start({ before, appendOnly: false });
    const there = read.connect();
    expect(await there.dbsize()).toBeGreaterThan(0);
    await there.config('SET', 'appendonly', 'yes');
    await until('the file is written', async () =>
      /aof_rewrite_in_progress:0\r?\n(?:.*\r?\n)*?aof_last_bgrewrite_status:ok/.test(
        await there.info('persistence'),
      ),
    );
    there.disconnect();
    await isWhole(read.url);
    await read.end();
  });

  it('from an export, byte for byte, with its rack and the keys of its door', async () => {
    const path = join(folder.path, 'shop.jsonl');
    expect((await cli(redis.url, ['export', path])).code).toBe(0);
    const other = await TestRedis.start();
    expect(await cli(other.url, ['import', path])).toMatchObject({
      code: 0,
      text: expect.stringContaining('1 unfinished batches are on the queue again'),
    });
    await isWhole(other.url);
    await other.end();
  });
});
