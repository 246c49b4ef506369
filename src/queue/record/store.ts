/** The record of each batch, beside the queue: every change one script, every reply checked. */
import type { Redis } from 'ioredis';
import type { Round } from '../../processes/share.js';
import { newerRack } from '../../rack/store/reading.js';
import type { Urgency } from '../../terms.js';
import { type Keys, workOf } from '../names.js';
import { NightStore } from '../night/night-store.js';
import { redisNow } from '../redis/clock.js';
import { railsMost } from '../room.js';
import { AttemptStore } from './attempts.js';
import { asDamage } from './reply.js';
import { type RunScript, scriptsOf } from './run-script.js';
import {
  type BatchContent,
  type BatchIdentity,
  type BatchState,
  type CancelAnswer,
  type Claim,
  type EnteredBatch,
  type MemberOutcomes,
  type PoolPlace,
  type Publication,
  STATES,
  type Taking,
} from './steps.js';

export class Store {
  readonly #redis: Redis;
  readonly #keys: Keys;
  readonly #retention: number;
  readonly #run: RunScript;
  readonly night: NightStore;
  readonly attempts: AttemptStore;

  constructor(redis: Redis, keys: Keys, retention: number) {
    this.#redis = redis;
    this.#keys = keys;
    this.#retention = Math.round(retention);
    this.#run = scriptsOf(redis, keys);
    this.night = new NightStore(redis, keys, this.#retention, this.#run);
    this.attempts = new AttemptStore(this.#run);
  }

  /**
   * `who` asks, for the audit trail. `spoiled`: the run whose plan was found damaged, which is then made anew. `replace`:
   * other content under the id makes room, unless it is being cut. `hold`: job id of what a quote may hold for it.
   */
  async claim(
    jobId: string,
    { id, fingerprint, urgency }: BatchIdentity,
    who: string,
    {
      spoiled = null,
      replace = false,
      pool = null,
      hold = null,
    }: {
      readonly spoiled?: number | null;
      readonly replace?: boolean;
      readonly pool?: PoolPlace | null;
      readonly hold?: string | null;
    } = {},
  ): Promise<Claim> {
    const own = [jobId, this.#keys.cancelled, replace ? 1 : '', this.#retention];
    const place = [pool?.sealed ?? '', pool?.closes ?? '', hold ?? ''];
    const args = [id, fingerprint, urgency, spoiled ?? '', who, ...own, ...place];
    const keys = [this.#keys.job(urgency, jobId), this.#keys.audit];
    const reply = await this.#run('claim', jobId, args, keys);
    return {
      outcome: reply.one(0, ['new', 'again', 'same', 'other', 'cut', 'night', 'replaced', 'newer']),
      fingerprint: reply.text(1),
      state: reply.one(2, STATES),
      run: reply.count(3),
      jobExists: reply.count(4) === 1,
      revision: reply.count(5),
    };
  }

  /** `added`: when the job was, milliseconds since 1970. `content` is null when the record has it already. */
  async enter(
    jobId: string,
    { id, fingerprint, urgency }: BatchIdentity,
    added: number,
    content: BatchContent | null,
  ): Promise<EnteredBatch> {
    const reply = await this.#run('enter', jobId, [
      id,
      fingerprint,
      urgency,
      added,
      content?.sealed ?? '',
      JSON.stringify(content?.mouldings ?? []),
      content?.mouldings.length ?? 0,
      content?.limit ?? 0,
      content?.shop === true ? (workOf(jobId) === 'plan' ? 1 : 2) : '',
      jobId,
      this.#keys.cancelled,
      this.#retention,
      JSON.stringify(content?.expected.each ?? []),
      content?.expected.small === true ? 1 : '',
      content?.pool ?? '',
      content?.hold ?? '',
      content?.rails ?? 0,
      content?.woodFirst === true ? 1 : '',
    ]);
    const kind = reply.one(0, ['go', 'pooled', 'other', 'gone', 'newer', ...STATES]);
    if (kind === 'go') {
      const [run, fence, total] = [reply.count(2), reply.count(3), reply.count(4)];
      return {
        kind,
        fingerprint: reply.text(1),
        run,
        fence,
        total,
        granted: reply.count(5),
        shop: reply.text(6) !== '',
      };
    }
    if (kind === 'other') return { kind, fingerprint: reply.text(1) };
    return kind === 'gone' || kind === 'newer' || kind === 'pooled'
      ? { kind }
      : { kind: 'ended', state: kind };
  }

  /** What the first round is for, and how long it is, as long as none of it has begun. */
  async first(
    jobId: string,
    run: number,
    fence: number,
    { phase, limit }: Round,
  ): Promise<'opened' | 'stale' | 'ended'> {
    const reply = await this.#run('first', jobId, [run, fence, phase, Math.round(limit)]);
    return reply.one(0, ['opened', 'stale', 'ended']);
  }

  /** Opens another round for these mouldings; `round`: how many there were. */
  async extend(
    jobId: string,
    run: number,
    fence: number,
    round: number,
    { limit, phase }: Round,
    indices: readonly number[],
  ): Promise<'extended' | 'stale' | 'ended'> {
    const args = [run, fence, round, Math.round(limit), JSON.stringify(indices), phase];
    const reply = await this.#run('extend', jobId, args);
    return reply.one(0, ['extended', 'stale', 'ended']);
  }

  async publish(
    jobId: string,
    run: number,
    fence: number,
    plan: {
      readonly sealed: Uint8Array;
      readonly status: string;
      readonly cost: number;
      readonly seconds?: number | null;
    },
    taking: Taking | null = null,
    outcomes: MemberOutcomes | null = null,
  ): Promise<Publication> {
    const reply = await this.#run('publish', jobId, [
      ...[run, fence, plan.sealed, plan.status, plan.cost, this.#retention],
      ...[taking?.change ?? '', JSON.stringify(taking?.mouldings ?? []), jobId, taking?.silence ?? 0],
      outcomes === null ? '' : JSON.stringify(outcomes),
      plan.seconds ?? '',
    ]);
    const kind = reply.one(0, ['published', 'stale', 'ended', 'taken', 'wait', 'newer']);
    if (kind === 'newer') throw newerRack();
    if (kind === 'taken') return { kind, taken: reply.texts(1) };
    return kind === 'wait' ? { kind, before: reply.count(1) } : { kind };
  }

  /** Whether a batch that waits for pieces has its turn; else how many are before it. */
  async turn(
    jobId: string,
    run: number,
    fence: number,
    silence: number,
  ): Promise<
    { readonly kind: 'go' | 'stale' | 'ended' } | { readonly kind: 'wait'; readonly before: number }
  > {
    const reply = await this.#run('turn', jobId, [run, fence, jobId, silence]);
    const kind = reply.one(0, ['go', 'wait', 'stale', 'ended']);
    return kind === 'wait' ? { kind, before: reply.count(1) } : { kind };
  }

  /** Plans these mouldings anew, from what is free by then. */
  async replan(
    jobId: string,
    run: number,
    fence: number,
    indices: readonly number[],
  ): Promise<'planned' | 'stale' | 'ended'> {
    const reply = await this.#run('replan', jobId, [run, fence, JSON.stringify(indices)]);
    return reply.one(0, ['planned', 'stale', 'ended']);
  }

  /** `run` null: whichever it is. */
  async failBatch(
    jobId: string,
    run: number | null,
    failure: string,
    partial: Uint8Array | null,
  ): Promise<void> {
    await this.#run('failBatch', jobId, [run ?? '', failure, partial ?? '', this.#retention, jobId]);
  }

  /** `replan`: also out of a night that is planned, so that the others are planned again. */
  async cancel(jobId: string, who: string, replan = false): Promise<CancelAnswer> {
    const args = [this.#retention, this.#keys.cancelled, jobId, who, replan ? 1 : ''];
    const reply = await this.#run('cancel', jobId, args, [this.#keys.audit]);
    const kind = reply.one(0, ['cancelled', 'left', 'ended', 'night', 'begun', 'unknown']);
    if (kind === 'night' || kind === 'begun') return { kind, night: reply.text(1) };
    if (kind === 'left') {
      const night = { id: reply.text(1), jobId: reply.text(2), run: reply.count(3) };
      return { kind, night, left: reply.count(4) };
    }
    if (kind === 'unknown') return { kind };
    return { kind: 'state', state: kind === 'ended' ? reply.one(1, STATES) : kind };
  }

  /** Forgets a batch that has ended. */
  async purge(jobId: string, who: string): Promise<'purged' | 'unknown' | BatchState> {
    const reply = await this.#run('purge', jobId, [who], [this.#keys.audit]);
    const kind = reply.one(0, ['purged', 'kept', 'unknown']);
    return kind === 'kept' ? reply.one(1, STATES) : kind;
  }

  /** What the priorities of this urgency's mouldings are counted from: milliseconds since 1970. */
  async ranksFrom(urgency: Urgency): Promise<number> {
    const key = this.#keys.ranksFrom(urgency);
    const reply = await this.#run('ranks', '', [], this.#keys.openParts(urgency), key);
    return reply.count(0);
  }

  /** Most rails that any living worker can put together; null: not known. */
  railsMost(urgency: Urgency): Promise<number | null> {
    return railsMost(this.#redis, this.#keys, urgency);
  }

  /** A job that is refused or over need not go on carrying its batch. `key` is the job's. */
  async strip(key: string, instead: Readonly<Record<string, unknown>>): Promise<void> {
    await this.#run('strip', '', [JSON.stringify(instead)], [], key);
  }

  /** Milliseconds since 1970, by Redis's clock. */
  now(): Promise<number> {
    return redisNow(this.#redis);
  }

  /** Fields as they lie there, undefined where absent. */
  async read(jobId: string, fields: readonly string[]): Promise<(Buffer | undefined)[]> {
    if (fields.length === 0) return [];
    try {
      const values = await this.#redis.hmgetBuffer(this.#keys.record(jobId), ...fields);
      return values.map((value) => value ?? undefined);
    } catch (error) {
      throw asDamage(error);
    }
  }
}
