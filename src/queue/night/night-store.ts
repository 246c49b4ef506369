/** The pool and its nights as they lie in Redis: every change one script, see `scripts.ts`. */
import type { Redis } from 'ioredis';
import type { Keys } from '../names.js';
import type { RunScript } from '../record/run-script.js';
import type { NightClosing, NightPart } from '../record/steps.js';
import { type NightSettings, settingsFrom } from './schedule.js';

/** What is known of the pool without its batches. */
export interface PoolState {
  readonly settings: NightSettings;
  /** Milliseconds since 1970; null: nothing waits. */
  readonly opened: number | null;
  readonly closes: number | null;
  /** Job ids, in the order of arrival. */
  readonly waiting: readonly string[];
}

function moment(text: string | null | undefined): number | null {
  const number = Number(text ?? '');
  return text === null || text === undefined || text === '' || !Number.isFinite(number) ? null : number;
}

export class NightStore {
  readonly #redis: Redis;
  readonly #keys: Keys;
  readonly #retention: number;
  readonly #ask: RunScript;

  constructor(redis: Redis, keys: Keys, retention: number, ask: RunScript) {
    this.#redis = redis;
    this.#keys = keys;
    this.#retention = retention;
    this.#ask = ask;
  }

  async state(): Promise<PoolState> {
    const { about, pool } = this.#keys.night;
    const fields = ['close', 'zone', 'atMost', 'opened', 'closes'] as const;
    const [close, zone, atMost, opened, closes] = await this.#redis.hmget(about, ...fields);
    return {
      settings: settingsFrom(close, zone, atMost),
      opened: moment(opened),
      closes: moment(closes),
      waiting: await this.#redis.zrange(pool, '0', '-1'),
    };
  }

  /** Job ids of nights that have closed and have not ended. */
  open(): Promise<readonly string[]> {
    return this.#redis.zrange(this.#keys.night.open, '0', '-1');
  }

  /** A record under which pieces of the rack are held; when it expires, the sweep frees them. */
  async hold(jobId: string, id: string, time: number): Promise<void> {
    await this.#ask('holdQuote', jobId, [id, time]);
  }

  /** Counts an attempt at putting a night together; answers which it is. */
  attempt(jobId: string): Promise<number> {
    return this.#redis.hincrby(this.#keys.record(jobId), 'attempts', 1);
  }

  /** Closes the pool if it is time; `early`: also before. */
  async close(early: boolean, who: string): Promise<NightClosing> {
    const reply = await this.#ask('closeNight', '', [early ? 1 : '', who], [this.#keys.audit]);
    const kind = reply.one(0, ['closed', 'early', 'empty']);
    if (kind === 'closed') return { kind, jobId: reply.text(1), batches: reply.count(2) };
    return kind === 'early' ? { kind, closes: reply.count(1) } : { kind };
  }

  /** `taken`: another batch has the id. `changed`: a batch has left the night meanwhile. */
  async compose(
    jobId: string,
    parts: readonly NightPart[],
  ): Promise<
    | { readonly kind: 'made' | 'made before' | 'changed' | 'ended' }
    | { readonly kind: 'taken'; readonly id: string }
  > {
    const each = parts.flatMap(({ jobId: job, id, fingerprint, urgency, content, members }) => {
      const { mouldings, limit, shop, sealed, expected, rails = 0, woodFirst = false } = content;
      const about = [JSON.stringify(mouldings), mouldings.length, limit, shop ? 1 : ''];
      return [
        job,
        id,
        fingerprint,
        urgency,
        ...about,
        JSON.stringify(members),
        sealed,
        JSON.stringify(expected.each),
        expected.small ? 1 : '',
        rails,
        woodFirst ? 1 : '',
      ];
    });
    const reply = await this.#ask('composeNight', jobId, [jobId, ...each]);
    const kind = reply.one(0, ['made', 'made before', 'changed', 'ended', 'taken']);
    return kind === 'taken' ? { kind, id: reply.text(1) } : { kind };
  }

  async set({ close, zone, atMost }: NightSettings, closes: number): Promise<void> {
    await this.#ask('setNight', '', [close ?? '', zone, atMost, closes]);
  }

  /** Takes a batch that cannot be read out of its night. */
  async drop(jobId: string, night: string, failure: string): Promise<void> {
    await this.#ask('dropMember', jobId, [failure, this.#retention, night]);
  }
}
