/** Telling an outage from a fault. */
import { PairstopError } from '../../errors.js';

/** What ioredis says when it has no connection, or gave up on one. */
const CONNECTION =
  /^(Connection is closed|Command timed out|Stream isn't writeable|Reached the max retries|Command aborted)/;
/** What a Redis says that cannot serve now, and may again: starting, full, unable to write, changing its master. */
const SERVER = /^(LOADING|OOM|MISCONF|READONLY|MASTERDOWN|CLUSTERDOWN|TRYAGAIN|BUSY) /;
const REFUSAL = /^(NOAUTH|WRONGPASS|NOPERM|ERR AUTH)/;
/** A key that holds another kind of value, or a field that is no number where a script counts with it. */
const DAMAGE = /WRONGTYPE|is not an integer|user_script/;

/** Redis answers, but not to this user or password: asking again does not help. */
export class RefusedByRedis extends PairstopError {
  constructor(redis: string, word: string) {
    super('PS_REDIS', `${redis} refuses this user or password (${word})`);
  }
}

/** Redis's word for refusing the user or password, null for any other trouble. */
export function refusalIn(error: unknown): string | null {
  return error instanceof Error ? (REFUSAL.exec(error.message)?.[0] ?? null) : null;
}

/** Whether asking again may help. */
export function isOutage(error: unknown): boolean {
  if (!(error instanceof Error) || error instanceof RefusedByRedis) return false;
  const code: unknown = Reflect.get(error, 'code');
  if (typeof code === 'string' && /^(E[A-Z]+|PS_REDIS)$/.test(code)) return true;
  return CONNECTION.test(error.message) || SERVER.test(error.message);
}

/** Whether Redis could not do what it was asked because of what lies under the key. */
export function isDamage(error: unknown): boolean {
  if (!(error instanceof Error) || error instanceof PairstopError) return false;
  return !isOutage(error) && refusalIn(error) === null && DAMAGE.test(error.message);
}
