/** Telling an outage from a fault. */

/** Whether asking again may help: Redis was away, slow, or just starting. */
export function isOutage(error: unknown): boolean {
  if (!(error instanceof Error)) return false;
  const code: unknown = Reflect.get(error, 'code');
  if (typeof code === 'string' && /^(E[A-Z]+|PS_REDIS)$/.test(code)) return true;
  return /^(Connection is closed|Command timed out|Stream isn't writeable|LOADING|Reached the max retries|Command aborted)/.test(
    error.message,
  );
}
