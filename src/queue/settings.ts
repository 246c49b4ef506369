/** Settings of the service, from the environment. Each is listed in the README with its default. */
import { availableParallelism, hostname, userInfo } from 'node:os';
import * as z from 'zod';
import { type InputProblem, PairstopError } from '../errors.js';
import { availableMemory, heapOf, limitsFor } from '../processes/solver/memory.js';
import type { Urgency } from '../terms.js';
import { isRedisUrl, type RedisAddress, readAddress, URL_ALLOWED } from './redis/address.js';

const MB = 2 ** 20;
const SECOND = 1000;
const DAY = 86_400 * SECOND;
/** Share of the machine's memory for all solver processes together. */
const MEMORY_SHARE = 0.75;

/** Where a process answers to HTTP; port 0: whichever is free. */
export interface HttpSettings {
  readonly host: string;
  readonly port: number;
}

export interface QueueSettings {
  readonly redisUrl: string;
  /** The URL with what else it takes to get there. */
  readonly redis: RedisAddress;
  /** Who submits and cancels here, for the audit trail. */
  readonly who: string;
  /** Begins every key, so that several shops share one Redis. */
  readonly prefix: string;
  /** Milliseconds a finished batch is kept. */
  readonly retention: number;
  /** Milliseconds to wait for Redis at the start. */
  readonly startWait: number;
  /** Take a Redis that may forget batches. */
  readonly allowVolatile: boolean;
  /** Most characters of a job's payload. */
  readonly payload: number;
  readonly logLevel: string;
}

export interface WorkerSettings extends QueueSettings {
  /** Mouldings of urgent batches, and of others, solved at a time; 0: not served here. */
  readonly nowSlots: number;
  readonly tonightSlots: number;
  /** Limits of each solver process. */
  readonly heapMb: number;
  readonly rssMb: number;
  /** Tasks after which a solver process is replaced. */
  readonly recycleAfter: number;
  /** As for nice(1), of the worker itself: 0 is ordinary, 19 yields to everything else on its machine. */
  readonly nice: number;
  /** How often a moulding whose solver dies is tried in all. */
  readonly attempts: number;
  /** For metrics and health; null: not served. */
  readonly http: HttpSettings | null;
  readonly timing: Timing;
}

/** All in milliseconds. */
export interface Timing {
  /** A job whose worker has not been heard of for so long is given to another. */
  readonly lock: number;
  readonly stalledCheck: number;
  /** How often a running solve is reported to Redis and asks whether it should go on. */
  readonly beat: number;
  readonly heartbeat: number;
  /** Pause before a failed attempt is repeated. */
  readonly backoff: number;
  /** How long a finished result is kept in memory while Redis is away. */
  readonly outage: number;
  /** How long stopping may take. */
  readonly stop: number;
}

export const TIMING: Timing = {
  lock: 30 * SECOND,
  stalledCheck: 15 * SECOND,
  beat: 500,
  heartbeat: 5 * SECOND,
  backoff: SECOND,
  outage: 3_600 * SECOND,
  stop: 8 * SECOND,
};

const LOG_LEVELS = ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent'] as const;

/** `9464` or `0.0.0.0:9464`; by itself a port is served to this machine only. Null for anything else. */
function httpFrom(text: string): HttpSettings | null {
  const [, host = '127.0.0.1', port] = /^(?:(.+):)?(\d{1,5})$/.exec(text) ?? [];
  if (port === undefined || Number(port) > 65_535) return null;
  return { host: host.replace(/^\[|\]$/g, ''), port: Number(port) };
}

/** Whoever runs this program, as far as the system tells. */
export function whoRuns(): string {
  try {
    return `${userInfo().username}@${hostname()}`;
  } catch {
    return `?@${hostname()}`;
  }
}

function path() {
  return z.string().max(4_096).optional().describe('a PEM file');
}

function number(least: number, most: number, standard: number) {
  return z.coerce
    .number()
    .min(least)
    .max(most)
    .default(standard)
    .describe(`a number from ${least} to ${most}`);
}

function whole(least: number, most: number, standard: number) {
  return z.coerce
    .number()
    .int()
    .min(least)
    .max(most)
    .default(standard)
    .describe(`a whole number from ${least} to ${most}`);
}

/** Its default hangs on other settings. */
function optional(least: number, most: number) {
  return z.coerce
    .number()
    .int()
    .min(least)
    .max(most)
    .optional()
    .describe(`a whole number from ${least} to ${most}`);
}

/** Solver processes for now that take small tasks only. */
export const KEPT = 1;

/**
 * Processes of a pool with so many slots: one beyond them reads and assembles, so that no batch waits for another's
 * solve to end, and for now one more is kept for small batches.
 */
export function poolSize(urgency: Urgency, slots: number): number {
  if (slots === 0) return 0;
  return slots + 1 + (urgency === 'now' ? KEPT : 0);
}

function schema() {
  const cores = availableParallelism();
  return z.object({
    REDIS_URL: z
      .string()
      .max(2_000)
      .refine(isRedisUrl)
      .default('redis://127.0.0.1:6379')
      .describe(URL_ALLOWED),
    PAIRSTOP_REDIS_CA: path(),
    PAIRSTOP_REDIS_CERT: path(),
    PAIRSTOP_REDIS_KEY: path(),
    PAIRSTOP_SENTINELS: z.string().max(2_000).optional().describe('host:port, several with commas'),
    PAIRSTOP_SENTINEL_MASTER: z.string().max(200).optional().describe('the name of the master'),
    PAIRSTOP_SENTINEL_PASSWORD: z.string().max(1_000).optional().describe('the password of the Sentinels'),
    PAIRSTOP_HTTP: z
      .string()
      .refine((text) => httpFrom(text) !== null)
      .optional()
      .describe('a port, or host:port'),
    PAIRSTOP_WHO: z.string().max(100).optional().describe('a name of at most 100 characters'),
    LOG_LEVEL: z.enum(LOG_LEVELS).default('info').describe(LOG_LEVELS.join(', ')),
    PAIRSTOP_PREFIX: z
      .string()
      .regex(/^[A-Za-z0-9_.{}-]{1,64}$/)
      .default('pairstop')
      .describe('1 to 64 of letters, digits, _ . - { }'),
    PAIRSTOP_NOW_SLOTS: whole(0, 256, cores),
    PAIRSTOP_TONIGHT_SLOTS: whole(0, 256, cores),
    PAIRSTOP_SOLVER_HEAP_MB: optional(64, 1_000_000),
    PAIRSTOP_SOLVER_MEMORY_MB: optional(128, 1_000_000),
    PAIRSTOP_RECYCLE_AFTER: whole(1, 1_000_000, 1_000),
    PAIRSTOP_WORKER_NICE: whole(0, 19, 0),
    PAIRSTOP_ATTEMPTS: whole(1, 20, 3),
    PAIRSTOP_RETENTION_DAYS: number(0.001, 3_650, 30),
    PAIRSTOP_START_WAIT: number(0, 86_400, 60),
    PAIRSTOP_ALLOW_VOLATILE_REDIS: z.enum(['0', '1']).default('0').describe('0 or 1'),
    PAIRSTOP_PAYLOAD_MB: number(0.001, 256, 90),
    PAIRSTOP_LOCK_SECONDS: number(1, 3_600, TIMING.lock / SECOND),
  });
}

type ReadSettings = z.output<ReturnType<typeof schema>>;
export type Environment = Readonly<Record<string, string | undefined>>;

function read(environment: Environment): ReadSettings {
  const settings = schema();
  const given = Object.fromEntries(
    Object.keys(settings.shape).flatMap((name) => {
      const value = environment[name];
      return value === undefined || value === '' ? [] : [[name, value]];
    }),
  );
  const parsed = settings.safeParse(given);
  if (parsed.success) return parsed.data;
  const problems = parsed.error.issues.map(({ path }): InputProblem => {
    const name = String(path[0]);
    const field = Object.entries(settings.shape).find(([key]) => key === name)?.[1];
    // A URL may hold a password.
    const secret = name === 'REDIS_URL' || name === 'PAIRSTOP_SENTINEL_PASSWORD';
    const shown = secret ? 'another text' : JSON.stringify(environment[name]).slice(0, 80);
    return { path: name, given: shown, allowed: field?.description ?? 'a known setting' };
  });
  const lines = problems.map(({ path, given: was, allowed }) => `${path}: given ${was}; allowed: ${allowed}`);
  throw new PairstopError('PS_SETTING', `settings are not understood\n${lines.join('\n')}`, problems);
}

function addressFrom(env: ReadSettings): RedisAddress {
  return readAddress(env.REDIS_URL, {
    caFile: env.PAIRSTOP_REDIS_CA,
    certFile: env.PAIRSTOP_REDIS_CERT,
    keyFile: env.PAIRSTOP_REDIS_KEY,
    sentinels: env.PAIRSTOP_SENTINELS,
    master: env.PAIRSTOP_SENTINEL_MASTER,
    sentinelPassword: env.PAIRSTOP_SENTINEL_PASSWORD,
  });
}

/** How Redis is reached, by the environment alone. Throws PS_SETTING. */
export function redisAddress(environment: Environment): RedisAddress {
  return addressFrom(read(environment));
}

/**
 * Settings of a worker that may use so many bytes of `memory`. Throws PS_SETTING, naming every setting that is wrong and
 * never a password.
 */
export function workerSettings(environment: Environment, memory = availableMemory()): WorkerSettings {
  const env = read(environment);
  const lock = env.PAIRSTOP_LOCK_SECONDS * SECOND;
  // Both urgencies may be busy at once.
  const processes = poolSize('now', env.PAIRSTOP_NOW_SLOTS) + poolSize('tonight', env.PAIRSTOP_TONIGHT_SLOTS);
  const share = limitsFor(processes, MEMORY_SHARE, memory);
  const rssMb = env.PAIRSTOP_SOLVER_MEMORY_MB ?? share.rssMb;
  return {
    redisUrl: env.REDIS_URL,
    redis: addressFrom(env),
    who: env.PAIRSTOP_WHO ?? whoRuns(),
    http: httpFrom(env.PAIRSTOP_HTTP ?? ''),
    prefix: env.PAIRSTOP_PREFIX,
    retention: env.PAIRSTOP_RETENTION_DAYS * DAY,
    startWait: env.PAIRSTOP_START_WAIT * SECOND,
    allowVolatile: env.PAIRSTOP_ALLOW_VOLATILE_REDIS === '1',
    payload: Math.floor(env.PAIRSTOP_PAYLOAD_MB * MB),
    logLevel: env.LOG_LEVEL,
    nowSlots: env.PAIRSTOP_NOW_SLOTS,
    tonightSlots: env.PAIRSTOP_TONIGHT_SLOTS,
    heapMb: env.PAIRSTOP_SOLVER_HEAP_MB ?? heapOf(rssMb),
    rssMb,
    recycleAfter: env.PAIRSTOP_RECYCLE_AFTER,
    nice: env.PAIRSTOP_WORKER_NICE,
    attempts: env.PAIRSTOP_ATTEMPTS,
    timing: { ...TIMING, lock, stalledCheck: lock / 2 },
  };
}
