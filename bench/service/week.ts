/**
 * A week of nights as README's "Operate" tells it, with a fault each night: the commands and the lines written there, the
 * alarms of its table looked at in the workers' metrics, and at the end every order with its plan, checked.
 */
import { execFile } from 'node:child_process';
import { cpSync, openSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { batchOf } from '../../tests/tools/batches.js';
import { SilentProxy } from '../../tests/tools/proxy.js';
import { TestRedis } from '../../tests/tools/redis.js';
import { until } from '../../tests/tools/service.js';
import { ShopProcess, TempFolder } from '../../tests/tools/shop-process.js';
import { type Figure, round, sleep } from './setting.js';

const MAIN = fileURLToPath(new URL('../../src/cli/main.js', import.meta.url));
const HOUR_FAST = 'const now = Date.now; Date.now = () => now() + 3_600_000;';
const POOLED = 6;
const APART = 3;
/** On a machine with much else to do everything here is slow. */
const LONG_MS = 240_000;

interface Worker {
  readonly process: ShopProcess;
  readonly port: number;
}

class Shop {
  readonly folder = new TempFolder();
  readonly alarms: string[] = [];
  readonly missed: string[] = [];
  readonly orders: BatchDocument[] = [];
  readonly workers: Worker[] = [];
  redis: TestRedis;
  proxy: SilentProxy;
  client: Client;

  private constructor(redis: TestRedis, proxy: SilentProxy) {
    this.redis = redis;
    this.proxy = proxy;
    this.client = createClient({ connection: redis.url, patience: 30_000 });
  }

  static async open(): Promise<Shop> {
    const redis = await TestRedis.start();
    return new Shop(redis, await SilentProxy.to(redis.port));
  }

  /** A command as README has it; the output. Throws where it ends otherwise than `code`. */
  async command(args: readonly string[], code = 0): Promise<string> {
    const env = { PATH: process.env.PATH, HOME: process.env.HOME, REDIS_URL: this.redis.url };
    const [ended, out] = await promisify(execFile)(process.execPath, [MAIN, ...args], { env })
      .then(({ stdout }) => [0, stdout] as const)
      .catch((error: { code: number; stderr: string }) => [error.code, error.stderr] as const);
    if (ended !== code) throw new Error(`${args.join(' ')}: exit ${ended} instead of ${code}: ${out}`);
    return out;
  }

  async start(env: Readonly<Record<string, string>> = {}, node: readonly string[] = [], stdout?: number) {
    const settings = { REDIS_URL: this.proxy.url, PAIRSTOP_NOW_SLOTS: '1', PAIRSTOP_TONIGHT_SLOTS: '1' };
    const given = { PAIRSTOP_HTTP: '0', PAIRSTOP_LOCK_SECONDS: '5', ...settings, ...env };
    const one = new ShopProcess(process.execPath, [...node, MAIN, 'worker'], given, {
      ...(stdout === undefined ? {} : { stdout }),
    });
    const port = (): number =>
      Number(env.PAIRSTOP_HTTP ?? one.said('metrics and health are served')[0]?.port ?? 0);
    const ready = async (): Promise<boolean> =>
      port() > 0 && (await fetch(`http://127.0.0.1:${port()}/ready`).catch(() => null))?.status === 200;
    await until('a worker is ready', ready, LONG_MS);
    const worker = { process: one, port: port() };
    this.workers.push(worker);
    return worker;
  }

  async stop({ process: one }: Worker, signal: NodeJS.Signals = 'SIGTERM'): Promise<void> {
    this.workers.splice(
      this.workers.findIndex((worker) => worker.process === one),
      1,
    );
    await one.end(signal);
  }

  async metric(name: string, { port }: Worker = this.workers[0]!): Promise<number> {
    const text = await (await fetch(`http://127.0.0.1:${port}/metrics`)).text();
    return Number(
      text
        .split('\n')
        .find((line) => line.startsWith(`${name} `))
        ?.split(' ')[1],
    );
  }

  /** An alarm of README's table is raised by one of the workers. */
  async alarm(name: string, isRaised: (value: number) => boolean): Promise<void> {
    const raised = async (): Promise<boolean> => {
      for (const worker of this.workers) {
        if (isRaised(await this.metric(name, worker).catch(() => Number.NaN))) return true;
      }
      return false;
    };
    await until(name, raised, LONG_MS / 2).then(
      () => this.alarms.push(name),
      () => this.missed.push(name),
    );
  }

  /** An order, written to a file and submitted by the command. */
  async order(id: string, pooled: boolean): Promise<void> {
    const document = batchOf(id, ['ash', 'oak'], { frames: 3, timeLimit: 20 });
    const path = join(this.folder.path, `${id}.json`);
    writeFileSync(path, JSON.stringify(document));
    this.orders.push(document);
    // A Redis that takes nothing new says so, and the office tries again.
    for (const end = performance.now() + LONG_MS; ; await sleep(1_000)) {
      try {
        await this.command(['submit', path, ...(pooled ? ['--pool'] : [])]);
        return;
      } catch (error) {
        if (performance.now() > end) throw error;
      }
    }
  }

  async plansOf(orders: readonly BatchDocument[]): Promise<number> {
    let wrong = 0;
    for (const document of orders) {
      const plan = await this.client.result(document.id, { wait: LONG_MS });
      const planned = plan.batch === document.id ? document : await this.client.batch(plan.batch);
      if (!checkPlan(checkBatch(planned), plan).ok) wrong += 1;
    }
    return wrong;
  }

  async close(): Promise<void> {
    for (const worker of [...this.workers]) await this.stop(worker);
    await this.client.close();
    await this.proxy.end();
    await this.redis.end();
    await ShopProcess.endAll();
    this.folder.remove();
  }
}

/** What goes wrong in a night while its orders come in, and what whoever has read README does about it. */
const NIGHTS: Readonly<Record<string, (shop: Shop) => Promise<void>>> = {
  'a worker is killed': async (shop) => {
    await shop.stop(shop.workers[1]!, 'SIGKILL');
    await shop.alarm('pairstop_workers{state="lost"}', (lost) => lost > 0);
    await shop.start();
  },
  'Redis dies and starts again': async (shop) => {
    await shop.redis.down();
    await shop.alarm('pairstop_redis_up', (up) => up === 0);
    await shop.redis.up();
  },
  'Redis is full, and evicts afterwards': async (shop) => {
    const raw = shop.redis.connect();
    await raw.config('SET', 'maxmemory', '1mb');
    await shop.alarm('pairstop_redis_up', (up) => up === 0);
    await raw.config('SET', 'maxmemory', '0');
    await raw.config('SET', 'maxmemory-policy', 'allkeys-lru');
    await shop.alarm('pairstop_redis_unsafe', (unsafe) => unsafe === 1);
    await raw.config('SET', 'maxmemory-policy', 'noeviction');
    raw.disconnect();
  },
  "Redis's disk is full": async (shop) => {
    shop.redis.diskFull();
    await shop.alarm('pairstop_redis_up', (up) => up === 0);
    shop.redis.diskFreed();
  },
  'a worker freezes, and all connections fall silent': async (shop) => {
    const [, frozen] = shop.workers;
    frozen?.process.signal('SIGSTOP');
    // One that was killed earlier is told as lost for ten minutes, so the alarm may be on already.
    await shop.alarm('pairstop_workers{state="lost"}', (lost) => lost > 0);
    const isMissed = (): Promise<boolean> =>
      shop.command(['worker', '--check'], 1).then(
        () => true,
        () => false,
      );
    await until('worker --check misses it', isMissed, LONG_MS);
    frozen?.process.signal('SIGCONT');
    shop.proxy.silence();
    await shop.alarm('pairstop_redis_up', (up) => up === 0);
  },
  "a log's disk is full, and a clock an hour fast": async (shop) => {
    const fast = ['--import', `data:text/javascript,${encodeURIComponent(HOUR_FAST)}`];
    await shop.start({}, fast);
    await shop.alarm('pairstop_clock_offset_seconds', (offset) => Math.abs(offset) > 1);
    const { port } = shop.workers.at(-1)!;
    await shop.stop(shop.workers.at(-1)!);
    await shop.start({ PAIRSTOP_HTTP: String(port) }, [], openSync('/dev/full', 'w'));
    await shop.alarm('pairstop_log_lines_dropped_total', (dropped) => dropped > 0);
    await shop.stop(shop.workers.at(-1)!);
  },
  'no worker for a while, then all are replaced; Redis moves to a copied folder': async (shop) => {
    const [one, two] = [...shop.workers];
    await shop.start();
    // An upgrade: new ones first, then the old ones go.
    await shop.stop(one!);
    await shop.stop(two!);
    await shop.start();
    for (const worker of [...shop.workers]) await shop.stop(worker);
    await shop.command(['worker', '--check'], 1);
    const copy = join(shop.folder.path, 'backup');
    cpSync(join(shop.redis.folder, 'appendonlydir'), copy, { recursive: true });
    await shop.client.close();
    await shop.redis.end();
    await shop.proxy.end();
    shop.redis = await TestRedis.start({
      before: (folder) => cpSync(copy, join(folder, 'appendonlydir'), { recursive: true }),
    });
    shop.proxy = await SilentProxy.to(shop.redis.port);
    shop.client = createClient({ connection: shop.redis.url, patience: 30_000 });
    await shop.start();
    await shop.start();
    rmSync(copy, { recursive: true });
  },
};

/** `first`: nights to leave out at the beginning. */
export async function* week(first: number): AsyncGenerator<Figure> {
  const shop = await Shop.open();
  const began = performance.now();
  let wrong = 0;
  try {
    await shop.start();
    await shop.start();
    await shop.command(['night', 'set', '--close', '22:00', '--zone', 'Europe/Berlin', '--at-most', '24']);
    for (const [day, [what, happen]] of Object.entries(NIGHTS).entries()) {
      if (day < first) continue;
      const from = performance.now();
      const ids = Array.from({ length: POOLED + APART }, (_, i) => `day${day + 1}-${i + 1}`);
      const coming = (async () => {
        for (const [i, id] of ids.entries()) await shop.order(id, i >= APART);
      })();
      await Promise.all([coming, happen(shop)]);
      await shop.command(['night', 'close']);
      wrong += await shop.plansOf(shop.orders.slice(-ids.length));
      for (const args of [['status'], ['workers'], ['list', '--since', '3d'], ['audit']]) {
        await shop.command(args);
      }
      const [alarms, missed] = [shop.alarms.splice(0), shop.missed.splice(0)];
      yield {
        what: `night ${day + 1}: ${what}`,
        seconds: round((performance.now() - from) / 1_000),
        alarms,
        missed,
        kept: missed.length === 0 && wrong === 0,
      };
    }
    // Nothing of the whole week is lost, and the shop can be carried elsewhere.
    wrong += await shop.plansOf(shop.orders);
    await shop.command(['export', join(shop.folder.path, 'shop.txt')]);
    yield {
      what: `a week of nights, ${shop.orders.length} orders`,
      wrong,
      seconds: round((performance.now() - began) / 1_000),
      kept: wrong === 0,
    };
  } finally {
    await shop.close();
  }
}
