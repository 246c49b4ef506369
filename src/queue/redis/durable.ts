/** Whether a Redis may be trusted with a night's work. */
import type { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { PairstopError } from '../../errors.js';
import { redisName } from './connection.js';

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

/** Throws PS_REDIS_SETUP, or only warns where that is allowed. */
export async function requireDurable(
  redis: Redis,
  url: string,
  allowVolatile: boolean,
  log: Logger,
): Promise<void> {
  const found = await weaknesses(redis);
  if (found.length === 0) return;
  const name = redisName(url);
  if (allowVolatile) {
    log.warn({ redis: name, weaknesses: found }, 'this Redis may forget batches');
    return;
  }
  throw new PairstopError(
    'PS_REDIS_SETUP',
    `${name} is not safe to keep batches in: ${found.join('; ')}. For trials only: PAIRSTOP_ALLOW_VOLATILE_REDIS=1`,
  );
}
