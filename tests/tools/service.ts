/** A service for the tests: quick timings, its own Redis, planted solvers, log lines kept to be looked at. */
import { execFileSync } from 'node:child_process';
import { Writable } from 'node:stream';
import type { Redis } from 'ioredis';
import { type Logger, pino } from 'pino';
import { entryAt } from '../../src/processes/solver/entry.js';
import { type Client, createClient } from '../../src/queue/client/client.js';
import { type WorkerSettings, workerSettings } from '../../src/queue/settings.js';
import { type RunningWorker, startWorker } from '../../src/queue/worker/worker.js';
import { TestRedis } from './redis.js';

export const PLANTED = entryAt(
  new URL(`./planted-solver.${import.meta.url.endsWith('.ts') ? 'ts' : 'js'}`, import.meta.url),
);

/** Locks of seconds instead of half a minute. */
export const QUICK = {
  lock: 1_500,
  stalledCheck: 500,
  beat: 100,
  heartbeat: 500,
  backoff: 50,
  outage: 60_000,
  stop: 4_000,
} as const;

export interface TestSettings {
  readonly prefix?: string;
  readonly nowSlots?: number;
  readonly tonightSlots?: number;
  readonly attempts?: number;
  readonly payload?: number;
  readonly rssMb?: number;
  readonly heapMb?: number;
  readonly recycleAfter?: number;
  readonly nice?: number;
  readonly retention?: number;
  readonly startWait?: number;
  readonly allowVolatile?: boolean;
  readonly http?: WorkerSettings['http'];
  readonly timing?: Partial<WorkerSettings['timing']>;
}

export function testSettings(url: string, given: TestSettings = {}): WorkerSettings {
  const { timing, ...rest } = given;
  return {
    ...workerSettings({ REDIS_URL: url }),
    nowSlots: 1,
    tonightSlots: 0,
    heapMb: 512,
    rssMb: 1_024,
    startWait: 10_000,
    ...rest,
    timing: { ...QUICK, ...timing },
  };
}

export interface LogLine {
  readonly level: number;
  readonly msg: string;
  readonly batch?: string;
  readonly moulding?: string;
  readonly [key: string]: unknown;
}

export function keptLog(): { readonly log: Logger; readonly lines: LogLine[] } {
  const lines: LogLine[] = [];
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(JSON.parse(chunk.toString()) as LogLine);
      done();
    },
  });
  return { log: pino({ level: 'debug' }, stream), lines };
}

export interface TestWorker extends RunningWorker {
  readonly lines: readonly LogLine[];
  /** How often a solver was begun for this moulding. */
  readonly begun: (moulding: string) => number;
}

export async function testWorker(url: string, given: TestSettings = {}): Promise<TestWorker> {
  const { log, lines } = keptLog();
  const worker = await startWorker(testSettings(url, given), { log, entry: PLANTED });
  const begun = (moulding: string): number =>
    lines.filter((line) => line.msg === 'moulding begun' && line.moulding === moulding).length;
  return { ...worker, lines, begun };
}

export function testClient(redis: TestRedis, prefix = 'pairstop', patience = 5_000): Client {
  return createClient({ connection: redis.url, prefix, patience });
}

/** Waits for something to become true; fails the test when it does not. */
export async function until(
  what: string,
  isSo: () => boolean | Promise<boolean>,
  ms = 20_000,
): Promise<void> {
  const end = Date.now() + ms;
  while (!(await isSo())) {
    if (Date.now() > end) throw new Error(`not within ${ms} ms: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
}

export function isAlive(pid: number): boolean {
  try {
    // A zombie still answers to signal 0.
    return !/^\s*Z/.test(execFileSync('ps', ['-o', 'stat=', '-p', String(pid)]).toString());
  } catch {
    return false;
  }
}

/** Direct children of a process, threads not counted. */
export function childrenOf(pid: number): number[] {
  try {
    return execFileSync('ps', ['-o', 'pid=', '--ppid', String(pid)])
      .toString()
      .split('\n')
      .map(Number)
      .filter((child) => child > 0);
  } catch {
    return [];
  }
}

export interface OpenService {
  readonly redis: TestRedis;
  readonly raw: Redis;
  readonly worker: TestWorker;
  readonly client: Client;
  readonly end: () => Promise<void>;
}

/** A Redis, a worker and a client, for all tests of a file. */
export async function openService(given: TestSettings = {}): Promise<OpenService> {
  const redis = await TestRedis.start();
  const raw = redis.connect();
  const worker = await testWorker(redis.url, given);
  const client = testClient(redis);
  const end = async (): Promise<void> => {
    await client.close();
    await worker.stop();
    raw.disconnect();
    await redis.end();
  };
  return { redis, raw, worker, client, end };
}
