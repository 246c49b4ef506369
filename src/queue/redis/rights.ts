/** What a user of Redis must be allowed for one shop, and no more. `tests/operate/redis-rights.test.ts` holds it so. */

/** By what they serve; several serve more than one. AUTH and HELLO need no right: Redis lets anyone call them. */
const COMMANDS: Readonly<Record<string, string>> = {
  connecting: 'select ping info time client|setname',
  scripts: 'eval evalsha multi exec',
  telling: 'publish subscribe psubscribe unsubscribe',
  keys: 'del exists type rename persist expire pexpire pttl scan',
  texts: 'get set incr',
  hashes: 'hget hset hmget hmset hdel hexists hgetall hincrby hkeys hvals hlen',
  lists: 'llen lpos lpush lrange lindex lset lrem ltrim rpop rpush rpoplpush',
  sets: 'sadd srem scard smembers sismember',
  'sorted sets':
    'zadd zcard zcount zpopmin bzpopmin zrange zrangebylex zrangebyscore zrem zremrangebyrank zremrangebyscore zrevrange zrevrangebyscore zscore',
  streams: 'xadd xrange xrevrange xtrim',
};

export const RIGHTS: readonly string[] = Object.values(COMMANDS).flatMap((text) => text.split(' '));

/**
 * The rule for `ACL SETUSER NAME on >PASSWORD …`. A prefix holds nothing that a pattern of Redis reads as such. The second
 * channel is the pattern the door's webhooks listen by: Redis lets a user listen by a pattern only if it is in the rule as it is.
 */
export function rightsFor(prefix: string): string {
  return [
    `~${prefix}:*`,
    `&${prefix}:*`,
    `&${prefix}:store:*:events`,
    ...RIGHTS.map((right) => `+${right}`),
  ].join(' ');
}
