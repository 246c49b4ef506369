/** Connections to Redis: how they are opened, how long anything waits, and what is said about them. */
import { Redis, type RedisOptions } from 'ioredis';
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import { RefusedByRedis, refusalIn } from './outage.js';
import { sleep } from './waiting.js';

const SECOND = 1000;
const CONNECT_MS = 5 * SECOND;
const COMMAND_MS = 10 * SECOND;
const RETRY_LEAST_MS = 50;
const RETRY_MOST_MS = SECOND;
/** The same trouble is told again after this long. */
const TELL_AGAIN_MS = 30 * SECOND;
const WAITING_AGAIN_MS = 5 * SECOND;
const LOOK_MS = 50;
const SILENCE = 'no answer yet';

type ConnectionOptions = Omit<RedisOptions, 'replyMapping'>;

/** `redis://host:port/db` without user and password. */
export function redisName(url: string): string {
  try {
    const { protocol, hostname, port, pathname } = new URL(url);
    return `${protocol}//${hostname}:${port === '' ? '6379' : port}${pathname === '/' ? '' : pathname}`;
  } catch {
    return 'redis://?';
  }
}

/** Whether a connection can be opened by it, as far as the text tells. */
export function isRedisUrl(url: unknown): url is string {
  if (typeof url !== 'string' || !/^rediss?:\/\/[^\s]+$/.test(url)) return false;
  try {
    const { username, password, pathname } = new URL(url);
    decodeURIComponent(username + password);
    return /^(\/\d{0,6})?$/.test(pathname);
  } catch {
    return false;
  }
}

/**
 * `asking` connections refuse at once while Redis is away, and give up on a command after 10 s: whoever asks decides
 * whether to ask again. `working` ones are BullMQ's, which waits and repeats by itself. Throws PS_SETTING for a URL that
 * is none, without showing it: it may hold a password.
 */
export function openRedis(url: string, use: 'asking' | 'working'): Redis {
  if (!isRedisUrl(url)) {
    const allowed = 'redis://[user:password@]host:port[/db], or rediss:// for TLS';
    throw new PairstopError('PS_SETTING', `the URL of Redis is not understood; allowed: ${allowed}`);
  }
  const common: ConnectionOptions = {
    lazyConnect: true,
    connectTimeout: CONNECT_MS,
    retryStrategy: (times) => Math.min(RETRY_LEAST_MS * 2 ** Math.min(times, 10), RETRY_MOST_MS),
    // A restarted Redis that is still reading its file, or a replica made master, is asked again.
    reconnectOnError: (error) => error.message.startsWith('READONLY'),
  };
  const asking: ConnectionOptions = {
    enableOfflineQueue: false,
    commandTimeout: COMMAND_MS,
    maxRetriesPerRequest: 0,
    autoResendUnfulfilledCommands: false,
  };
  const redis = new Redis(url, {
    ...common,
    ...(use === 'asking' ? asking : { maxRetriesPerRequest: null }),
  });
  // Without a listener an error would end the process; whoever opened it adds one that tells.
  redis.on('error', () => {});
  return redis;
}

function codeOf(error: Error): string {
  const code: unknown = Reflect.get(error, 'code');
  return typeof code === 'string' ? code : (/^[A-Z]+\b/.exec(error.message)?.[0] ?? error.name);
}

/** Logs each kind of connection trouble once, then at most every 30 s with how often it came. */
export class Troubles {
  readonly #log: Logger;
  readonly #redis: string;
  readonly #seen = new Map<string, { count: number; told: number }>();

  constructor(log: Logger, url: string) {
    this.#log = log;
    this.#redis = redisName(url);
  }

  readonly tell = (error: Error): void => {
    const code = codeOf(error);
    const now = Date.now();
    const seen = this.#seen.get(code) ?? { count: 0, told: 0 };
    seen.count += 1;
    this.#seen.set(code, seen);
    if (now - seen.told < TELL_AGAIN_MS) return;
    this.#log.warn({ redis: this.#redis, code, times: seen.count }, 'trouble with Redis');
    seen.told = now;
    seen.count = 0;
  };
}

/**
 * Waits until Redis answers. Throws PS_REDIS after `wait` milliseconds, or at once when it refuses the password.
 */
export async function connect(redis: Redis, url: string, wait: number, log?: Logger): Promise<void> {
  const name = redisName(url);
  const end = Date.now() + wait;
  let last = SILENCE;
  let denied: string | null = null;
  const listen = (error: Error): void => {
    last = codeOf(error);
    denied = refusalIn(error) ?? denied;
  };
  redis.on('error', listen);
  let told = 0;
  try {
    // Why it could not connect comes as an event; a refused password also, or only, this way.
    if (redis.status === 'wait') redis.connect().catch((error: Error) => refusalIn(error) && listen(error));
    while (redis.status !== 'ready') {
      if (denied !== null) throw new RefusedByRedis(name, denied);
      const left = Math.max(0, end - Date.now());
      if (left === 0) {
        // The rest of a patience that was spent on earlier attempts is not worth telling.
        const waited = wait < SECOND ? '' : ` within ${(wait / SECOND).toFixed(0)} s`;
        throw new PairstopError('PS_REDIS', `${name} does not answer${waited} (${last}); is it running?`);
      }
      if (log !== undefined && last !== SILENCE && Date.now() - told > WAITING_AGAIN_MS) {
        log.warn({ redis: name, code: last, secondsLeft: Math.round(left / SECOND) }, 'waiting for Redis');
        told = Date.now();
      }
      await sleep(LOOK_MS);
    }
  } finally {
    redis.off('error', listen);
  }
}

/** Closes without waiting for an answer that may never come. */
export function hangUp(redis: Redis): void {
  redis.disconnect();
}
