/** How long a worker takes from SIGTERM to its end, whatever hangs; and to a working connection after one fell silent. */
import { createClient } from '../../src/queue/client/client.js';
import { TIMING } from '../../src/queue/settings.js';
import { batchOf } from '../../tests/tools/batches.js';
import { Killable } from '../../tests/tools/killable.js';
import { SilentProxy } from '../../tests/tools/proxy.js';
import { TestRedis } from '../../tests/tools/redis.js';
import { childrenOf, isAlive, until } from '../../tests/tools/service.js';
import { type Figure, round, sleep } from './setting.js';

const STOP_MS = 10_000;
const SILENT_MS = 30_000;
const ROUNDS = 5;
const SETTINGS = { timing: TIMING, nowSlots: 2, heapMb: 1_024, rssMb: 2_048 };

interface Scene {
  readonly redis: TestRedis;
  readonly proxy: SilentProxy;
  readonly worker: Killable;
  readonly server: number;
}

/** What hangs, and how long is waited until it does. */
const HANGING: Readonly<Record<string, (scene: Scene) => Promise<void> | void>> = {
  nothing: () => {},
  'two solvers that never return': () => {},
  'Redis, killed': ({ redis }) => redis.down(),
  'Redis, stopped': ({ server }) => void process.kill(server, 'SIGSTOP'),
  'the connections, silent': ({ proxy }) => proxy.silence(),
  'Redis, full': async ({ redis }) => {
    const raw = redis.connect();
    await raw.config('SET', 'maxmemory', '1');
    raw.disconnect();
  },
  "Redis's disk, full": ({ redis }) => redis.diskFull(),
  'the solvers, stopped': ({ worker }) => {
    for (const pid of childrenOf(worker.pid)) process.kill(pid, 'SIGSTOP');
  },
};

async function timed(what: string, hang: (scene: Scene) => Promise<void> | void): Promise<number> {
  const redis = await TestRedis.start();
  const proxy = await SilentProxy.to(redis.port);
  const client = createClient({ connection: redis.url });
  const worker = await Killable.start(proxy.url, SETTINGS);
  const raw = redis.connect();
  const server = Number(/process_id:(\d+)/.exec(await raw.info('server'))?.[1]);
  raw.disconnect();
  if (what !== 'nothing') {
    await client.submit(batchOf('hangs', ['hang', 'hang-too'], { frames: 100, timeLimit: 600 }));
    const begun = (): number => worker.lines.filter(({ msg }) => msg === 'moulding begun').length;
    await until('both are begun', () => begun() === 2, 60_000);
  }
  await client.close();
  await hang({ redis, proxy, worker, server });
  await sleep(1_000);
  const solvers = childrenOf(worker.pid);
  const told = performance.now();
  await worker.end('SIGTERM');
  const took = performance.now() - told;
  await until('no solver is left', () => !solvers.some(isAlive), 5_000);
  if (isAlive(server)) process.kill(server, 'SIGCONT');
  await proxy.end();
  await redis.end();
  return took;
}

/** Milliseconds from the silence to a plan, and to an answer, through the connections that fell silent. */
async function silent(): Promise<{ readonly worker: number; readonly client: number }> {
  const redis = await TestRedis.start();
  const proxy = await SilentProxy.to(redis.port);
  const worker = await Killable.start(proxy.url, SETTINGS);
  const through = createClient({ connection: proxy.url, patience: 60_000 });
  const direct = createClient({ connection: redis.url });
  await through.service();
  proxy.silence();
  const began = performance.now();
  await direct.submit(batchOf('silent', ['ash']));
  const since = async (done: Promise<unknown>): Promise<number> => {
    await done;
    return performance.now() - began;
  };
  const [byWorker, byClient] = await Promise.all([
    since(direct.result('silent', { wait: 120_000 })),
    since(through.status('silent')),
  ]);
  await through.close();
  await direct.close();
  await worker.end('SIGTERM');
  await proxy.end();
  await redis.end();
  return { worker: byWorker, client: byClient };
}

export async function* stops(): AsyncGenerator<Figure> {
  for (const [what, hang] of Object.entries(HANGING)) {
    const ms = await timed(what, hang);
    yield { what: `SIGTERM to exit while this hangs: ${what}`, ms: round(ms), kept: ms < STOP_MS };
  }
  const times = await Promise.all(Array.from({ length: ROUNDS }, silent));
  const [worker, client] = [
    Math.max(...times.map((time) => time.worker)),
    Math.max(...times.map((time) => time.client)),
  ];
  yield {
    what: `all connections fall silent, ${ROUNDS} times: to a plan by the worker, to an answer for the client`,
    workerWorstMs: round(worker),
    clientWorstMs: round(client),
    promisedMs: SILENT_MS,
    kept: Math.max(worker, client) < SILENT_MS,
  };
}
