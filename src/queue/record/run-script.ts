/** Runs the record's scripts: by their digest, and with their text where Redis does not know them yet. */
import { createHash } from 'node:crypto';
import type { Redis } from 'ioredis';
import { keyList } from '../../rack/store/keys.js';
import type { Keys } from '../names.js';
import { nightKeyList } from '../night/keys.js';
import { asDamage, ScriptReply } from './reply.js';
import { SCRIPT_TEXTS, type ScriptName } from './scripts.js';

const DIGESTS = Object.fromEntries(
  Object.entries(SCRIPT_TEXTS).map(([name, text]) => [name, createHash('sha1').update(text).digest('hex')]),
) as Record<ScriptName, string>;

export type ScriptArgument = string | number | Uint8Array;

/**
 * `more`: keys after those that every script is given, which are the rack's and the night's; `key`: the first, by default
 * the record's. Throws PS_STORE where what lies under a key is damaged.
 */
export type RunScript = (
  name: ScriptName,
  jobId: string,
  args: readonly ScriptArgument[],
  more?: readonly string[],
  key?: string,
) => Promise<ScriptReply>;

export function scriptsOf(redis: Redis, keys: Keys): RunScript {
  const shared = [...keyList(keys.rack), ...nightKeyList(keys.night)];
  return async (name, jobId, args, more = [], key = keys.record(jobId)) => {
    const values = args.map((arg) =>
      typeof arg !== 'object' || Buffer.isBuffer(arg) ? arg : Buffer.from(arg),
    );
    const rest = [1 + shared.length + more.length, key, ...shared, ...more, ...values];
    try {
      return new ScriptReply(await redis.callBuffer('EVALSHA', [DIGESTS[name], ...rest]));
    } catch (error) {
      if (!(error instanceof Error) || !error.message.startsWith('NOSCRIPT')) throw asDamage(error);
    }
    try {
      return new ScriptReply(await redis.callBuffer('EVAL', [SCRIPT_TEXTS[name], ...rest]));
    } catch (error) {
      throw asDamage(error);
    }
  };
}
