/** Redis as shops run it: encrypted, behind Sentinels, of other versions and makes; a Cluster is refused. */
import { execFile, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { createClient } from '../../src/queue/client/client.js';
import { batchOf } from '../tools/batches.js';
import { freePort, TestRedis } from '../tools/redis.js';
import { SERVERS } from '../tools/servers.js';
import { testWorker, until } from '../tools/service.js';
import { MAIN, ShopProcess, TempFolder } from '../tools/shop-process.js';

vi.setConfig({ testTimeout: 240_000, hookTimeout: 60_000 });

const WAIT = { wait: 150_000 };
const folder = new TempFolder();

afterAll(async () => {
  await ShopProcess.endAll();
  folder.remove();
});

/** A command to its end, by the settings a shop would use. */
async function command(args: readonly string[], env: Readonly<Record<string, string>>) {
  const whole = { PATH: process.env.PATH ?? '', HOME: process.env.HOME ?? '', ...env };
  try {
    const { stdout } = await promisify(execFile)(process.execPath, [MAIN, ...args], { env: whole });
    return { code: 0, out: stdout, err: '' };
  } catch (error) {
    const { code, stdout, stderr } = error as { code: number; stdout: string; stderr: string };
    return { code, out: stdout, err: stderr };
  }
}

function written(name: string, text: string): string {
  const path = join(folder.path, name);
  writeFileSync(path, text);
  return path;
}

const documentAt = (id: string): string =>
  written(`${id}.json`, JSON.stringify(batchOf(id, ['ash', 'oak'], { frames: 4 })));

/** An authority of one's own, a certificate for the server and one for its clients. */
function certificates(): Readonly<Record<'ca' | 'server' | 'serverKey' | 'client' | 'clientKey', string>> {
  const at = (name: string): string => join(folder.path, name);
  const openssl = (...args: string[]): void => {
    execFileSync('openssl', args, { stdio: 'ignore' });
  };
  const own = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'];
  openssl('req', '-x509', ...own, '-keyout', at('ca.key'), '-out', at('ca.pem'), '-subj', '/CN=a shop');
  const signed = (name: string, subject: string, extensions: string): void => {
    const file = written(`${name}.ext`, extensions);
    const request = at(`${name}.csr`);
    openssl('req', ...own, '-keyout', at(`${name}.key`), '-out', request, '-subj', subject);
    const authority = ['-CA', at('ca.pem'), '-CAkey', at('ca.key'), '-CAcreateserial'];
    openssl(
      'x509',
      '-req',
      '-in',
      request,
      ...authority,
      '-days',
      '2',
      '-extfile',
      file,
      '-out',
      at(`${name}.pem`),
    );
  };
  signed('server', '/CN=localhost', 'subjectAltName=DNS:localhost,IP:127.0.0.1\n');
  signed('client', '/CN=worker', 'extendedKeyUsage=clientAuth\n');
  return {
    ca: at('ca.pem'),
    server: at('server.pem'),
    serverKey: at('server.key'),
    client: at('client.pem'),
    clientKey: at('client.key'),
  };
}

describe.concurrent('TLS with an authority and client certificates of the shop', () => {
  it('serves worker, commands and door by their settings, and nobody without a certificate', async () => {
    const { ca, server, serverKey, client, clientKey } = certificates();
    const port = await freePort();
    const tls = ['--tls-cert-file', server, '--tls-key-file', serverKey, '--tls-ca-cert-file', ca];
    const redis = await TestRedis.start({
      args: ['--tls-port', String(port), ...tls, '--tls-auth-clients', 'yes'],
    });
    const trusted = { REDIS_URL: `rediss://localhost:${port}`, PAIRSTOP_REDIS_CA: ca };
    const env = { ...trusted, PAIRSTOP_REDIS_CERT: client, PAIRSTOP_REDIS_KEY: clientKey };
    const worker = ShopProcess.worker(env.REDIS_URL, env);
    const door = new ShopProcess(process.execPath, [MAIN, 'serve'], { ...env, PAIRSTOP_DOOR_PORT: '0' });
    await until('the worker serves', () => worker.said('worker ready').length > 0, 90_000);
    await until('the door is open', () => door.said('door ready').length > 0, 90_000);

    const submitted = await command(['submit', '--wait', documentAt('by-tls')], env);
    expect(submitted).toMatchObject({ code: 0 });
    const listens = String(door.said('door ready')[0]?.listens);
    const got = await fetch(new URL('/v1/batches/by-tls/plan', listens));
    expect(got.status).toBe(200);
    expect(((await got.json()) as { status: string }).status).toBe('complete');

    // Without the authority the server is not believed; without a certificate the server believes nobody.
    const quick = { PAIRSTOP_START_WAIT: '2' };
    const unknown = await command(['status'], { REDIS_URL: env.REDIS_URL, ...quick });
    expect(unknown.code).toBe(1);
    expect(unknown.err).toMatch(/PS_REDIS/);
    const nobody = await command(['status'], { ...trusted, ...quick });
    expect(nobody.code).toBe(1);
    expect(nobody.err).toMatch(/PS_REDIS/);
    expect(await door.end('SIGTERM')).toBeLessThan(10_000);
    expect(await worker.end('SIGTERM')).toBeLessThan(10_000);
    await redis.end();
  });
});

describe.concurrent('Sentinels', () => {
  it('lead worker and client to the new master, and nothing submitted is lost', async () => {
    const master = await TestRedis.start();
    const replica = await TestRedis.start({ args: ['--replicaof', '127.0.0.1', String(master.port)] });
    const sentinelPort = await freePort();
    const config = written(
      'sentinel.conf',
      [
        `port ${sentinelPort}`,
        'bind 127.0.0.1',
        `dir ${folder.path}`,
        `sentinel monitor shop 127.0.0.1 ${master.port} 1`,
        'sentinel down-after-milliseconds shop 1000',
        'sentinel failover-timeout shop 5000',
        '',
      ].join('\n'),
    );
    const sentinel = spawn('redis-server', [config, '--sentinel'], { stdio: 'ignore' });
    try {
      const raw = replica.connect();
      const synced = async (): Promise<boolean> =>
        /master_link_status:up/.test(await raw.info('replication').catch(() => ''));
      await until('the replica follows', synced, 60_000);
      const env = {
        REDIS_URL: 'redis://unused',
        PAIRSTOP_SENTINELS: `127.0.0.1:${sentinelPort}`,
        PAIRSTOP_SENTINEL_MASTER: 'shop',
      };
      const worker = ShopProcess.worker(env.REDIS_URL, env);
      await until('the worker serves', () => worker.said('worker ready').length > 0, 90_000);
      const client = createClient({
        connection: {
          url: env.REDIS_URL,
          sentinels: [{ host: '127.0.0.1', port: sentinelPort }],
          master: 'shop',
        },
        patience: 30_000,
      });
      const all = Array.from({ length: 12 }, (_, i) => batchOf(`failover ${i}`, ['ash', 'oak'], { seed: i }));
      for (const document of all.slice(0, 8)) await client.submit(document);
      await client.result('failover 0', WAIT);
      // What the master has acknowledged and not yet sent on is lost with it: that is Redis's to say, not ours.
      const bytes = async (of: TestRedis, field: string): Promise<string | undefined> => {
        const one = of.connect();
        const found = new RegExp(`${field}:(\\d+)`).exec(await one.info('replication'))?.[1];
        one.disconnect();
        return found;
      };
      await until('all is sent on', async () => {
        const sent = await bytes(master, 'master_repl_offset');
        return sent !== undefined && sent === (await bytes(replica, 'slave_repl_offset'));
      });
      await master.down();
      for (const document of all.slice(8)) await client.submit(document);
      for (const document of all) {
        const plan = await client.result(document.id, WAIT);
        expect(checkPlan(checkBatch(document), plan).ok).toBe(true);
      }
      expect(await raw.info('replication')).toMatch(/role:master/);
      expect(await command(['submit', '--wait', documentAt('after')], env)).toMatchObject({ code: 0 });
      await client.close();
      raw.disconnect();
      expect(await worker.end('SIGTERM')).toBeLessThan(10_000);
    } finally {
      sentinel.kill('SIGKILL');
      await once(sentinel, 'exit');
      await replica.end();
      await master.end();
    }
  });
});

describe.concurrent('a Cluster', () => {
  it('is refused by worker, commands and door at the start, in one sentence', async () => {
    const cluster = await TestRedis.start({ args: ['--cluster-enabled', 'yes'] });
    const env = { REDIS_URL: cluster.url, PAIRSTOP_START_WAIT: '30' };
    const refusals = await Promise.all(
      [['worker'], ['submit', documentAt('clustered')], ['status'], ['serve', '--port', '0']].map((args) =>
        command(args, env),
      ),
    );
    for (const { code, err } of refusals) {
      expect(code).toBe(1);
      const lines = err.split('\n').filter((line) => line !== '' && !line.startsWith('{'));
      expect(lines).toEqual([
        expect.stringMatching(/PS_REDIS_SETUP: .* is a Redis Cluster; allowed: a single Redis/),
      ]);
    }
    const raw = cluster.connect();
    expect(await raw.dbsize()).toBe(0);
    raw.disconnect();
    await cluster.end();
  });
});

describe.concurrent.each(SERVERS)('$name', ({ command: program }) => {
  it('serves a shop: plans, a killed worker, a restart', async () => {
    const redis = await TestRedis.start({ command: program });
    const client = createClient({ connection: redis.url, patience: 20_000 });
    const first = ShopProcess.worker(redis.url, { PAIRSTOP_LOCK_SECONDS: '2' });
    await until('it serves', () => first.said('worker ready').length > 0, 90_000);
    await client.submit(batchOf('plain', ['ash', 'oak']));
    expect((await client.result('plain', WAIT)).status).toBe('complete');
    await client.submit({ ...batchOf('later', ['elm'], { frames: 30 }) });
    await first.end('SIGKILL');
    await redis.down();
    await redis.up();
    const second = await testWorker(redis.url);
    expect((await client.result('later', WAIT)).status).toBe('complete');
    expect((await client.result('plain', WAIT)).status).toBe('complete');
    await client.submit(batchOf('stopped', ['hang']));
    await until('it runs', () => second.begun('hang') === 1, 60_000);
    expect(await client.cancel('stopped')).toBe('cancelled');
    await second.stop();
    await client.close();
    await redis.end();
  });
});
