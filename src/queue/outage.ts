/** Telling an outage from a fault. */

/** What ioredis says when it has no connection, or gave up on one. */
const CONNECTION =
  /^(Connection is closed|Command timed out|Stream isn't writeable|Reached the max retries|Command aborted)/;
/** What a Redis says that cannot serve now, and may again: starting, full, unable to write, changing its master. */
const SERVER = /^(LOADING|OOM|MISCONF|READONLY|MASTERDOWN|CLUSTERDOWN|TRYAGAIN|BUSY) /;

/** Whether asking again may help. */
export function isOutage(error: unknown): boolean {
  if (!(error instanceof Error)) return false;
  const code: unknown = Reflect.get(error, 'code');
  if (typeof code === 'string' && /^(E[A-Z]+|PS_REDIS)$/.test(code)) return true;
  return CONNECTION.test(error.message) || SERVER.test(error.message);
}
