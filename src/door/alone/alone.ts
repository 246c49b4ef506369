/**
 * Everything one shop needs on one machine: its own Redis, a worker and the door, each a process, kept running. One
 * signal stops all: the door first, so that nothing new comes in, then the worker, then Redis.
 */
import { type ChildProcess, fork } from 'node:child_process';
import { mkdir, readFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import { ownModule } from '../../place.js';
import { entryAt } from '../../processes/solver/entry.js';
import { connect, hangUp, openRedis } from '../../queue/redis/connection.js';
import type { Environment } from '../../queue/settings.js';
import type { DoorSettings } from '../settings.js';
import { lockFolder } from './lock.js';
import { ownRedis } from './redis-server.js';
import { Supervised } from './supervisor.js';

const COMMAND = entryAt(ownModule('src/cli/main'));
const START_MS = 60_000;
const DOOR_MS = 9_000;
const WORKER_MS = 10_000;
const REDIS_MS = 15_000;
/** Measured, see DEVELOPERS.md, "The door". */
const WORKER_NICE = '10';

/** A process of ours that also ends when this one is gone: it then loses its channel. */
function command(args: readonly string[], environment: Environment): ChildProcess {
  return fork(COMMAND.file, [...args], {
    execArgv: [...COMMAND.execArgv],
    env: { ...environment, PAIRSTOP_KEPT: '1' } as NodeJS.ProcessEnv,
    stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
    // A terminal's Ctrl-C reaches a whole group; these are told in order.
    detached: true,
  });
}

/** An earlier service that was killed may have left its Redis: it is stopped, since two must not share a file. */
async function stopLeftOver(url: string | null): Promise<void> {
  if (url === null) return;
  const redis = new Redis(url, { lazyConnect: true, retryStrategy: () => null, connectTimeout: 1_000 });
  redis.on('error', () => {});
  try {
    await redis.connect();
    await redis.shutdown('SAVE');
  } catch {
    // There is none, or it has just gone.
  } finally {
    redis.disconnect();
  }
}

async function urlIn(folder: string): Promise<string | null> {
  const text = await readFile(join(folder, 'redis-url'), 'utf8').catch(() => '');
  return text.trim() === '' ? null : text.trim();
}

/** Runs until SIGTERM or SIGINT; gives the exit code. Throws PS_FILE, PS_REDIS. */
export async function serveAlone(
  given: string,
  settings: DoorSettings,
  environment: Environment,
  log: Logger,
): Promise<number> {
  let stop: (code: number) => void = () => {};
  const told = new Promise<number>((done) => {
    stop = done;
  });
  for (const signal of ['SIGTERM', 'SIGINT', 'SIGHUP'] as const) process.on(signal, () => stop(0));
  const folder = resolve(given);
  let unlock: () => Promise<void>;
  try {
    await mkdir(folder, { recursive: true, mode: 0o700 });
    unlock = await lockFolder(join(folder, 'lock'));
  } catch (error) {
    if (error instanceof PairstopError) throw error;
    const reason = error instanceof Error ? error.message : 'it cannot be written';
    throw new PairstopError('PS_FILE', `--alone: the folder ${given} cannot be used: ${reason}`);
  }
  const started: Supervised[] = [];
  let missing: Error | null = null;
  const keep = (name: string, start: () => ChildProcess, stopWithin: number): void => {
    const fault = (error: Error): void => {
      missing = error;
      stop(1);
    };
    const one = new Supervised({ name, start, stopWithin }, log, fault);
    started.unshift(one);
    one.start();
  };
  try {
    await stopLeftOver(await urlIn(folder));
    const redis = await ownRedis(folder);
    keep('redis', redis.start, REDIS_MS);
    await ready(redis.url, told);
    // What the environment says of another Redis is not meant for this one.
    const others = Object.entries(environment).filter(([name]) => !/^(PAIRSTOP_)?REDIS_/.test(name));
    const own: Environment = { ...Object.fromEntries(others), REDIS_URL: redis.url };
    // Unless somebody says otherwise, whoever calls the door does not wait for the worker to do its books.
    const { PAIRSTOP_WORKER_NICE: given = '' } = own;
    const worker = { ...own, PAIRSTOP_WORKER_NICE: given === '' ? WORKER_NICE : given };
    keep('worker', () => command(['worker'], worker), WORKER_MS);
    const door = { ...own, PAIRSTOP_DOOR_HOST: settings.host, PAIRSTOP_DOOR_PORT: String(settings.port) };
    keep('door', () => command(['serve'], door), DOOR_MS);
    const code = await told;
    log.info('stopping all');
    return code;
  } finally {
    for (const one of started) await one.stop();
    await unlock();
    if (missing !== null) {
      log.error(
        { reason: (missing as Error).message },
        'a process cannot be started; is redis-server installed?',
      );
    }
  }
}

async function ready(url: string, told: Promise<number>): Promise<void> {
  const redis = openRedis(url, 'asking');
  try {
    await Promise.race([connect(redis, url, START_MS), told]);
  } finally {
    hangUp(redis);
  }
}
