/** Whether a Redis may be trusted with a night's work. */
import type { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import { type RedisAddress, redisName } from './address.js';

function field(info: string, name: string): string | undefined {
  return new RegExp(`^${name}:(.*?)\\r?$`, 'm').exec(info)?.[1];
}

/** What is wrong with it, each with the setting to change. INFO is asked rather than CONFIG, which hosts often forbid. */
export async function weaknesses(redis: Redis): Promise<string[]> {
  const memory = await redis.info('memory');
  const persistence = await redis.info('persistence');
  const found: string[] = [];
  const policy = field(memory, 'maxmemory_policy');
  if (policy !== undefined && policy !== 'noeviction') {
    found.push(
      `it drops keys when memory is short (maxmemory-policy ${policy}); set maxmemory-policy noeviction`,
    );
  }
  if (field(persistence, 'aof_enabled') !== '1') {
    found.push('it loses batches when it restarts; set appendonly yes');
  }
  return found;
}

/** The oldest version whose scripts may say that they free memory. */
const VERSION_LEAST = 7;

/** Throws PS_REDIS_SETUP for a Redis that Pairstop cannot work with at all. */
export async function requireFit(redis: Redis, address: string | RedisAddress): Promise<void> {
  const server = await redis.info('server');
  const name = redisName(address);
  if (field(server, 'redis_mode') === 'cluster') {
    throw new PairstopError(
      'PS_REDIS_SETUP',
      `${name} is a Redis Cluster; allowed: a single Redis, or one with replicas by Sentinel (PAIRSTOP_SENTINELS)`,
    );
  }
  const version = field(server, 'valkey_version') ?? field(server, 'redis_version') ?? '0';
  if (Number.parseInt(version, 10) < VERSION_LEAST) {
    throw new PairstopError(
      'PS_REDIS_SETUP',
      `${name} is version ${version}; allowed: ${VERSION_LEAST} or later`,
    );
  }
}

/** What is wrong with it. Throws PS_REDIS_SETUP for anything, or only warns where that is allowed. */
export async function requireDurable(
  redis: Redis,
  address: string | RedisAddress,
  allowVolatile: boolean,
  log: Logger,
): Promise<readonly string[]> {
  const found = await weaknesses(redis);
  if (found.length === 0) return found;
  const name = redisName(address);
  if (allowVolatile) {
    log.warn({ redis: name, weaknesses: found }, 'this Redis may forget batches');
    return found;
  }
  throw new PairstopError(
    'PS_REDIS_SETUP',
    `${name} is not safe to keep batches in: ${found.join('; ')}. For trials only: PAIRSTOP_ALLOW_VOLATILE_REDIS=1`,
  );
}
