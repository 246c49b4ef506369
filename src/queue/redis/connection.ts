/** Connections to Redis: how they are opened, and how long anything waits. */
import { Duplex } from 'node:stream';
import { Redis, type RedisOptions } from 'ioredis';
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import { addressOf, isRedisUrl, type RedisAddress, redisName, URL_ALLOWED } from './address.js';
import { type RefusedByRedis, refusalIn, refused } from './outage.js';
import { codeOf } from './outage-log.js';
import { sleep } from './waiting.js';

const SECOND = 1000;
const CONNECT_MS = 5 * SECOND;
const COMMAND_MS = 10 * SECOND;
/**
 * A connection that owes an answer for so long is dropped and opened anew: its other end may be gone without a word.
 * BullMQ's wait for a job is answered after 10 s at most.
 */
const SILENT_ASKING_MS = 6 * SECOND;
const SILENT_WORKING_MS = 13 * SECOND;
const PING_MS = 5 * SECOND;
const RETRY_LEAST_MS = 50;
const RETRY_MOST_MS = SECOND;
const WAITING_AGAIN_MS = 60 * SECOND;
/** At the start a Redis that says nothing is told of after so long. */
const WAITING_FIRST_MS = 2 * SECOND;
/** No limit: BullMQ adds three to it, and three beyond Node's word for none, 0, is three. */
const LISTENERS_MOST = 1_000_000;
const LOOK_MS = 50;
const SILENCE = 'no answer yet';

type ConnectionOptions = Omit<RedisOptions, 'replyMapping'>;

/** Why a connection may never be used, however well it answers. */
const unusable = new WeakMap<Redis, string>();

function tlsOf({ ca, cert, key }: RedisAddress): ConnectionOptions {
  const tls = {
    ...(ca === undefined ? {} : { ca }),
    ...(cert === undefined ? {} : { cert }),
    ...(key === undefined ? {} : { key }),
  };
  return Object.keys(tls).length === 0 ? {} : { tls };
}

function sentinelOptions({ url, sentinels, master, sentinelPassword }: RedisAddress): ConnectionOptions {
  const { protocol, username, password, pathname } = new URL(url);
  const db = Number(pathname.slice(1));
  return {
    sentinels: (sentinels ?? []).map(({ host, port }) => ({ host, port })),
    ...(master === undefined ? {} : { name: master }),
    ...(username === '' ? {} : { username: decodeURIComponent(username) }),
    ...(password === '' ? {} : { password: decodeURIComponent(password) }),
    ...(db === 0 ? {} : { db }),
    ...(sentinelPassword === undefined ? {} : { sentinelPassword }),
    ...(protocol === 'rediss:' ? { tls: {}, enableTLSForSentinelMode: true } : {}),
    sentinelRetryStrategy: (times) => Math.min(RETRY_LEAST_MS * 2 ** Math.min(times, 10), RETRY_MOST_MS),
    failoverDetector: true,
  };
}

/**
 * `asking` connections refuse at once while Redis is away, and give up on a command after 10 s: whoever asks decides
 * whether to ask again. `working` ones are BullMQ's, which waits and repeats by itself. Throws PS_SETTING for a URL that
 * is none, without showing it: it may hold a password.
 */
export function openRedis(given: string | RedisAddress, use: 'asking' | 'working'): Redis {
  const address = addressOf(given);
  if (!isRedisUrl(address.url)) {
    throw new PairstopError('PS_SETTING', `the URL of Redis is not understood; allowed: ${URL_ALLOWED}`);
  }
  const common: ConnectionOptions = {
    lazyConnect: true,
    connectTimeout: CONNECT_MS,
    keepAlive: PING_MS,
    retryStrategy: (times) => Math.min(RETRY_LEAST_MS * 2 ** Math.min(times, 10), RETRY_MOST_MS),
    // A restarted Redis that is still reading its file, or a replica made master, is asked again.
    reconnectOnError: (error) => error.message.startsWith('READONLY'),
    ...tlsOf(address),
  };
  const asking: ConnectionOptions = {
    enableOfflineQueue: false,
    commandTimeout: COMMAND_MS,
    socketTimeout: SILENT_ASKING_MS,
    maxRetriesPerRequest: 0,
    autoResendUnfulfilledCommands: false,
  };
  const working: ConnectionOptions = { maxRetriesPerRequest: null, socketTimeout: SILENT_WORKING_MS };
  const options = { ...common, ...(use === 'asking' ? asking : working) };
  const redis =
    address.sentinels === undefined
      ? new Redis(address.url, options)
      : new Redis({ ...sentinelOptions(address), ...options });
  if (use === 'asking') sendTogether(redis);
  // Each call that waits for the connection listens to its errors.
  redis.setMaxListeners(LISTENERS_MOST);
  // Without a listener an error would end the process; whoever opened it adds one that tells.
  redis.on('error', (error: Error) => {
    // ioredis would go on in database 0, which may be another shop's.
    if (!/DB index is out of range|'select' command/.test(error.message)) return;
    unusable.set(redis, error.message);
    redis.disconnect();
  });
  return redis;
}

/**
 * What is asked in one turn of the event loop goes out in one write, as ioredis itself does for pipelines alone: fifty
 * callers at once cost one system call and not fifty, and nobody waits longer, since the turn ends before the loop waits.
 */
function sendTogether(redis: Redis): void {
  redis.on('connect', () => {
    const stream: unknown = Reflect.get(redis, 'stream');
    if (!(stream instanceof Duplex)) return;
    const write = stream.write.bind(stream) as (chunk: unknown) => boolean;
    let held = false;
    const together = (chunk: unknown): boolean => {
      if (!held) {
        held = true;
        stream.cork();
        setImmediate(() => {
          held = false;
          stream.uncork();
        });
      }
      return write(chunk);
    };
    stream.write = together as typeof stream.write;
  });
}

/** A connection that is owed nothing may be silent for long before anybody notices: it is asked now and then. */
export function keepHearing(redis: Redis): () => void {
  const timer = setInterval(() => {
    if (redis.status === 'ready') redis.ping().catch(() => {});
  }, PING_MS);
  timer.unref();
  return () => clearInterval(timer);
}

function unusableError(name: string, why: string): PairstopError {
  return new PairstopError(
    'PS_REDIS_SETUP',
    `${name} does not give the database of its URL (${why.slice(0, 100)}); allowed: a number below its "databases" setting, and the right to SELECT`,
  );
}

/**
 * Waits until Redis answers. Throws PS_REDIS after `wait` milliseconds, or at once when it refuses the password, and
 * PS_REDIS_SETUP when it has no such database.
 */
export async function connect(
  redis: Redis,
  address: string | RedisAddress,
  wait: number,
  log?: Logger,
): Promise<void> {
  const name = redisName(address);
  const began = performance.now();
  const end = began + wait;
  let last = SILENCE;
  let denied: RefusedByRedis | null = null;
  const listen = (error: Error): void => {
    last = codeOf(error);
    denied = refused(name, error) ?? denied;
  };
  redis.on('error', listen);
  let told = Number.NEGATIVE_INFINITY;
  try {
    // Why it could not connect comes as an event; a refused password also, or only, this way.
    if (redis.status === 'wait') redis.connect().catch((error: Error) => refusalIn(error) && listen(error));
    while (redis.status !== 'ready') {
      const why = unusable.get(redis);
      if (why !== undefined) throw unusableError(name, why);
      if (denied !== null) throw denied;
      const now = performance.now();
      if (now >= end) {
        // The rest of a patience that was spent on earlier attempts is not worth telling.
        const waited = wait < SECOND ? '' : ` within ${(wait / SECOND).toFixed(0)} s`;
        throw new PairstopError('PS_REDIS', `${name} does not answer${waited} (${last}); is it running?`);
      }
      const worthTelling = last !== SILENCE || now - began > WAITING_FIRST_MS;
      if (log !== undefined && worthTelling && now - told > WAITING_AGAIN_MS) {
        const secondsLeft = Math.round((end - now) / SECOND);
        log.warn({ redis: name, code: last, secondsLeft }, 'waiting for Redis');
        told = now;
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
