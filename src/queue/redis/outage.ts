/** Telling an outage from a fault, and saying what kind it is. */
import { PairstopError } from '../../errors.js';

/** What keeps Redis from serving, in one word each. */
export type TroubleKind = 'away' | 'silent' | 'full' | 'loading' | 'read-only' | 'refusing';

const SAID: Readonly<Record<TroubleKind, string>> = {
  away: 'Redis is away',
  silent: 'Redis does not answer',
  full: 'Redis is full: it takes nothing new until its memory is freed or its limit (maxmemory) raised',
  loading: 'Redis is still reading its file',
  'read-only': 'Redis cannot write: it is a replica, or its disk is full or failing',
  refusing: 'Redis refuses this user or password',
};

export function saidOf(kind: TroubleKind): string {
  return SAID[kind];
}

/** What ioredis says when it has no connection, or gave up on one. */
const CONNECTION =
  /^(Connection is closed|Stream isn't writeable|Reached the max retries|Command aborted|All sentinels are unreachable)/;
const SILENT = /^(Command timed out|Socket timeout|Blocking command timed out)/;
/** What a Redis says that cannot serve now, and may again. Inside a script the word stands further on. */
const SERVER: readonly (readonly [RegExp, TroubleKind])[] = [
  [/^LOADING |^BUSY /, 'loading'],
  [/\bOOM command not allowed|^OOM /, 'full'],
  [/^(MISCONF|READONLY|MASTERDOWN|NOREPLICAS) |-(MISCONF|READONLY) /, 'read-only'],
  [/^(CLUSTERDOWN|TRYAGAIN) /, 'away'],
];
const REFUSAL = /^(NOAUTH|WRONGPASS|NOPERM|ERR AUTH)/;
/** How a script is told that its user lacks a right. */
const SCRIPT_REFUSAL = /NOPERM|The user executing the script can't/;
/** A key that holds another kind of value, or a field that is no number where a script counts with it. */
const DAMAGE = /WRONGTYPE|is not an integer|user_script/;

/** Redis answers, but not to this user or password: asking again does not help. */
export class RefusedByRedis extends PairstopError {
  constructor(redis: string, word: string, missing = '') {
    const right = missing === '' ? '' : `: ${missing.slice(0, 200)}`;
    super(
      'PS_REDIS',
      word === 'NOPERM'
        ? `${redis} does not give this user a right it needs (NOPERM${right})`
        : `${redis} refuses this user or password (${word})`,
    );
  }
}

/** Redis's word for refusing the user or password, or a right; null for any other trouble. */
export function refusalIn(error: unknown): string | null {
  if (!(error instanceof Error) || error instanceof PairstopError) return null;
  const [word] = REFUSAL.exec(error.message) ?? [];
  return word ?? (SCRIPT_REFUSAL.test(error.message) ? 'NOPERM' : null);
}

/** The error to throw where Redis refuses; null for any other trouble. */
export function refused(redis: string, error: unknown): RefusedByRedis | null {
  const word = refusalIn(error);
  if (word === null) return null;
  return new RefusedByRedis(redis, word, word === 'NOPERM' && error instanceof Error ? error.message : '');
}

/** What a caller is told of an error while doing `what`: never Redis's own error as it came. */
export function told(redis: string, what: string, error: unknown): unknown {
  const refusal = refused(redis, error);
  if (refusal !== null) return refusal;
  if (isDamage(error)) return new PairstopError('PS_STORE', `what is stored is damaged: ${what}`);
  const foreign = error instanceof Error && error.name === 'ReplyError' && !isOutage(error);
  return foreign
    ? new PairstopError('PS_REDIS', `${redis} answers: ${error.message.slice(0, 300)} (${what})`)
    : error;
}

/** Null for what is no trouble of Redis's. */
export function troubleIn(error: unknown): TroubleKind | null {
  if (!(error instanceof Error)) return null;
  if (error instanceof RefusedByRedis || refusalIn(error) !== null) return 'refusing';
  const { message } = error;
  for (const [said, kind] of SERVER) if (said.test(message)) return kind;
  if (SILENT.test(message)) return 'silent';
  const code: unknown = Reflect.get(error, 'code');
  if (typeof code === 'string' && /^(E[A-Z]+|PS_REDIS)$/.test(code)) return 'away';
  return CONNECTION.test(message) ? 'away' : null;
}

/** Whether asking again may help. */
export function isOutage(error: unknown): boolean {
  const kind = troubleIn(error);
  return kind !== null && kind !== 'refusing';
}

/** Whether Redis could not do what it was asked because of what lies under the key. */
export function isDamage(error: unknown): boolean {
  if (!(error instanceof Error) || error instanceof PairstopError) return false;
  return troubleIn(error) === null && DAMAGE.test(error.message);
}
