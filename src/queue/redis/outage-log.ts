/** An outage of Redis in the log: one line when it begins, one a minute while it lasts, one when it is over. */
import type { Logger } from 'pino';
import { type RedisAddress, redisName } from './address.js';
import { saidOf, type TroubleKind, troubleIn } from './outage.js';

const SECOND = 1_000;
const AGAIN_MS = 60 * SECOND;
/** Trouble seen this lately is not over, though something else was answered. */
const SETTLED_MS = 1_500;
/** One silence is noticed by one connection after the other, as each has its own patience. */
const SILENCE_SETTLED_MS = 8_000;

interface OutageSoFar {
  kind: TroubleKind;
  code: string;
  readonly began: number;
  last: number;
  times: number;
}

export function codeOf(error: Error): string {
  const code: unknown = Reflect.get(error, 'code');
  return typeof code === 'string' ? code : (/^[A-Z]+\b/.exec(error.message)?.[0] ?? error.name);
}

export class OutageLog {
  readonly #log: Logger;
  readonly #redis: string;
  #outage: OutageSoFar | null = null;
  #timer: NodeJS.Timeout | null = null;
  #count = 0;

  constructor(log: Logger, address: string | RedisAddress) {
    this.#log = log;
    this.#redis = redisName(address);
  }

  /** Outages since the start, the present one included. */
  get count(): number {
    return this.#count;
  }

  get kind(): TroubleKind | null {
    return this.#outage?.kind ?? null;
  }

  /** Whether it is trouble of Redis's, which is then told, or is part of what has been told. */
  readonly note = (error: unknown): boolean => {
    const kind = troubleIn(error);
    if (kind === null || !(error instanceof Error)) return false;
    const now = performance.now();
    const outage = this.#outage;
    if (outage === null) {
      this.#outage = { kind, code: codeOf(error), began: now, last: now, times: 1 };
      this.#count += 1;
      this.#log.warn({ redis: this.#redis, trouble: kind, code: codeOf(error) }, saidOf(kind));
      this.#timer = setInterval(() => this.#again(), AGAIN_MS);
      this.#timer.unref();
      return true;
    }
    // A refused or cut connection is how a full, starting or silent Redis shows itself on others of its connections.
    if (kind !== 'away') outage.kind = kind;
    outage.code = codeOf(error);
    outage.last = now;
    outage.times += 1;
    return true;
  };

  /** Redis has taken something: what troubles there were are over, unless they are quite new. */
  well(): void {
    const outage = this.#outage;
    const now = performance.now();
    if (outage === null) return;
    if (now - outage.last < (outage.kind === 'silent' ? SILENCE_SETTLED_MS : SETTLED_MS)) return;
    this.end();
    const seconds = Math.round((now - outage.began) / SECOND);
    this.#log.info(
      { redis: this.#redis, trouble: outage.kind, seconds, times: outage.times },
      'Redis serves again',
    );
  }

  /** Says no more of it. */
  end(): void {
    this.#outage = null;
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
  }

  #again(): void {
    const outage = this.#outage;
    if (outage === null) return;
    const { kind, code, began, times } = outage;
    const seconds = Math.round((performance.now() - began) / SECOND);
    this.#log.warn({ redis: this.#redis, trouble: kind, code, seconds, times }, `still: ${saidOf(kind)}`);
  }
}
