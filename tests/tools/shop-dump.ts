/**
 * All keys of a Redis as lines of JSON, one a key: `[key, type, milliseconds to live or -1, value]`, bytes in base64.
 * Plain commands put it back, so it loads into any version of Redis, unlike a dump file.
 */
import type { Redis } from 'ioredis';

type DumpedKey = readonly [key: string, type: string, ttl: number, value: unknown];

const packed = (bytes: Buffer): string => bytes.toString('base64');
const unpacked = (text: unknown): Buffer => Buffer.from(String(text), 'base64');

async function contentOf(redis: Redis, key: string, type: string): Promise<unknown> {
  switch (type) {
    case 'string':
      return packed((await redis.getBuffer(key))!);
    case 'hash':
      return Object.fromEntries(
        Object.entries(await redis.hgetallBuffer(key)).map(([field, bytes]) => [field, packed(bytes)]),
      );
    case 'list':
      return (await redis.lrangeBuffer(key, 0, -1)).map(packed);
    case 'zset':
      return redis.zrange(key, '0', '-1', 'WITHSCORES');
    case 'set':
      return redis.smembers(key);
    case 'stream':
      return redis.xrange(key, '-', '+');
    default:
      throw new Error(`${key} holds a ${type}`);
  }
}

export async function dumpShop(redis: Redis): Promise<string> {
  const keys = (await redis.keys('*')).sort();
  const lines: string[] = [];
  for (const key of keys) {
    const type = await redis.type(key);
    const dumped: DumpedKey = [key, type, await redis.pttl(key), await contentOf(redis, key, type)];
    lines.push(JSON.stringify(dumped));
  }
  return `${lines.join('\n')}\n`;
}

export async function loadShop(redis: Redis, text: string): Promise<void> {
  for (const line of text.trimEnd().split('\n')) {
    const [key, type, ttl, value] = JSON.parse(line) as DumpedKey;
    if (type === 'string') await redis.set(key, unpacked(value));
    if (type === 'hash') {
      const fields = Object.entries(value as Record<string, string>);
      await redis.hset(key, ...fields.flatMap(([field, bytes]) => [field, unpacked(bytes)]));
    }
    if (type === 'list') await redis.rpush(key, ...(value as string[]).map(unpacked));
    if (type === 'zset') {
      const flat = value as string[];
      for (let i = 0; i < flat.length; i += 2) await redis.zadd(key, flat[i + 1]!, flat[i]!);
    }
    if (type === 'set') await redis.sadd(key, ...(value as string[]));
    if (type === 'stream') {
      for (const [id, fields] of value as [string, string[]][]) await redis.xadd(key, id, ...fields);
    }
    if (ttl > 0) await redis.pexpire(key, ttl);
  }
}
