/**
 * Tells webhooks when a batch has ended (Standard Webhooks 1.0): the end is heard, or found when nobody heard it; each
 * telling is a job of a queue under an id that stays the same, so that several doors, or one that was killed, tell it
 * at least once under one webhook-id; tried again over a day.
 */
import { createHash, randomUUID } from 'node:crypto';
import { Queue, Worker } from 'bullmq';
import type { Redis } from 'ioredis';
import type { Logger } from 'pino';
import { Webhook } from 'standardwebhooks';
import { type Agent, request } from 'undici';
import { PairstopError } from '../../errors.js';
import type { BatchStatus } from '../../queue/client/status.js';
import { QUEUE_EVENTS } from '../../queue/names.js';
import { hangUp, openRedis } from '../../queue/redis/connection.js';
import { isOutage } from '../../queue/redis/outage.js';
import { sleep } from '../../queue/redis/waiting.js';
import { isOver } from '../progress/hub.js';
import type { DoorSettings } from '../settings.js';
import type { Shops } from '../shops.js';
import {
  type DeliveryAttempt,
  ENDS,
  type Followed,
  type StoredDelivery,
  type StoredWebhook,
  type WebhookBook,
} from './book.js';
import type { WebhookGuard } from './guard.js';

const QUEUE = 'door-webhooks';
const TEST = 'pairstop.test';
/** Whoever tries a webhook wants to see what became of it, and is answered after so long whatever the receiver does. */
const TEST_MS = 3_000;
const TEST_LOOK_MS = 50;
const AT_ONCE = 8;
const ANSWER_MOST = 65_536;
const ERROR_KEPT = 300;
const DAY_SECONDS = 86_400;
const GONE = 410;
const CLOSE_MS = 3_000;

interface CourierParts {
  readonly settings: DoorSettings;
  readonly book: WebhookBook;
  readonly guard: WebhookGuard;
  readonly shops: Shops;
  readonly log: Logger;
  /** Counts each attempt. */
  readonly told: (good: boolean) => void;
}

function messageId(...parts: readonly (string | number | null)[]): string {
  return `msg_${createHash('sha256').update(JSON.stringify(parts)).digest('base64url').slice(0, 27)}`;
}

function reasonOf(error: unknown): string {
  const message = error instanceof Error ? error.message || error.name : String(error);
  return (message.split('\n')[0] ?? '').slice(0, ERROR_KEPT);
}

/** The shop and batch of a channel `PREFIX:store:b-ID:events`; null for any other. */
function followedOf(shop: string, channel: string): Followed | null {
  const found = /^([bc])-(.+)$/.exec(channel.slice(`${shop}:store:`.length, -':events'.length));
  if (found === null) return null;
  try {
    return { shop, work: found[1] === 'b' ? 'plan' : 'compare', id: decodeURIComponent(found[2]!) };
  } catch {
    return null;
  }
}

export class Courier {
  readonly #parts: CourierParts;
  readonly #listening: Redis;
  readonly #working: Redis;
  readonly #queue: Queue;
  readonly #worker: Worker;
  readonly #agent: Agent;
  readonly #heard = new Set<string>();
  #timer: NodeJS.Timeout | null = null;

  constructor(parts: CourierParts) {
    this.#parts = parts;
    const { redis, prefix, timing } = parts.settings;
    this.#listening = openRedis(redis, 'asking');
    this.#working = openRedis(redis, 'working');
    this.#agent = parts.guard.agent(timing.attempt);
    this.#queue = new Queue(QUEUE, {
      connection: this.#working,
      prefix,
      skipVersionCheck: true,
      ...QUEUE_EVENTS,
    });
    this.#queue.on('error', () => {});
    this.#worker = new Worker(QUEUE, (job) => this.#deliver(String(job.name), job.attemptsMade), {
      connection: this.#working,
      prefix,
      concurrency: AT_ONCE,
      skipVersionCheck: true,
      autorun: false,
      settings: { backoffStrategy: (made) => timing.retries[made - 1] ?? timing.retries.at(-1) ?? 0 },
    });
    this.#worker.on('error', () => {});
    this.#listening.on('pmessage', (pattern: string, channel: string, what: string) => {
      if (!ENDS.some((end) => end === what)) return;
      const followed = followedOf(pattern.slice(0, -':store:*:events'.length), channel);
      if (followed !== null) void this.#look(followed).catch((error) => this.#trouble(error));
    });
    // Subscriptions of a connection that was lost are made anew, and what was missed is looked for.
    this.#listening.on('ready', () => {
      this.#heard.clear();
      void this.sweep().catch((error) => this.#trouble(error));
    });
  }

  start(): void {
    const { timing } = this.#parts.settings;
    this.#listening.connect().catch(() => {});
    void this.#worker.run().catch((error) => this.#trouble(error));
    this.#timer = setInterval(() => void this.sweep().catch((error) => this.#trouble(error)), timing.sweep);
  }

  async close(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    const late = new Promise<void>((resolve) => setTimeout(resolve, CLOSE_MS).unref());
    await Promise.race([this.#worker.close().then(() => this.#queue.close()), late]).catch(() => {});
    await this.#agent.destroy();
    hangUp(this.#listening);
    hangUp(this.#working);
  }

  #trouble(error: unknown): void {
    if (!isOutage(error)) this.#parts.log.warn({ reason: reasonOf(error) }, 'trouble with webhooks');
  }

  /** From now on these webhooks wait for the batch's end. */
  async follow(followed: Followed, hooks: readonly StoredWebhook[]): Promise<void> {
    if (hooks.length === 0) return;
    await this.#parts.book.follow(
      followed,
      hooks.map(({ id }) => id),
    );
    await this.#hear(followed.shop);
    // It may have ended before anyone listened.
    await this.#look(followed);
  }

  async #hear(shop: string): Promise<void> {
    if (this.#heard.has(shop) || this.#listening.status !== 'ready') return;
    await this.#listening.psubscribe(`${shop}:store:*:events`);
    this.#heard.add(shop);
  }

  /** Looks after every batch that is followed. */
  async sweep(): Promise<void> {
    for (const followed of await this.#parts.book.followed()) {
      await this.#hear(followed.shop);
      await this.#look(followed).catch((error) => this.#trouble(error));
    }
  }

  async #look(followed: Followed): Promise<void> {
    const { book, shops } = this.#parts;
    const hooks = await book.followers(followed);
    if (hooks.length === 0) return;
    let status: BatchStatus;
    try {
      status = await shops.client(followed.shop).status(followed.id, { work: followed.work });
    } catch (error) {
      // Kept no longer, so its end will not be told.
      if (error instanceof PairstopError && error.code === 'PS_UNKNOWN') return book.unfollow(followed);
      throw error;
    }
    if (!isOver(status)) return;
    for (const id of hooks) {
      const hook = await book.find(id);
      if (hook?.events.some((event) => event === status.state)) await this.#tell(hook, followed, status);
    }
    await book.unfollow(followed);
  }

  async #tell(hook: StoredWebhook, { work, id }: Followed, status: BatchStatus): Promise<void> {
    const { state, outcome, fingerprint, run, finished } = status;
    const self = `/v1/${work === 'plan' ? 'batches' : 'comparisons'}/${encodeURIComponent(id)}`;
    const result = `${self}/${work === 'plan' ? 'plan' : 'result'}`;
    const type = `${work === 'plan' ? 'batch' : 'comparison'}.${state}`;
    const data = { id, state, outcome, fingerprint, run, finished, links: { self, result } };
    const timestamp = new Date(finished ?? Date.now()).toISOString();
    await this.#queueUp(hook, messageId(hook.id, work, id, run, finished, state), type, id, {
      type,
      timestamp,
      data,
    });
  }

  /** A delivery of its own kind, to try the way: with its first attempt, where that does not take long. */
  async test(hook: StoredWebhook): Promise<StoredDelivery> {
    const body = { type: TEST, timestamp: new Date().toISOString(), data: { webhook: hook.id } };
    const sent = await this.#queueUp(hook, messageId(hook.id, randomUUID()), TEST, null, body);
    const end = Date.now() + TEST_MS;
    for (let now = sent; ; ) {
      if (now.attempts.length > 0 || now.state !== 'waiting' || Date.now() > end) return now;
      await sleep(TEST_LOOK_MS);
      // Whichever door takes it.
      now = (await this.#parts.book.delivery(sent.id)) ?? now;
    }
  }

  async #queueUp(
    hook: StoredWebhook,
    id: string,
    type: string,
    batch: string | null,
    body: object,
  ): Promise<StoredDelivery> {
    const { book, settings } = this.#parts;
    const known = await book.delivery(id);
    const delivery: StoredDelivery = known ?? {
      id,
      webhook: hook.id,
      type,
      batch,
      state: 'waiting',
      made: Date.now(),
      attempts: [],
      next: null,
      body: JSON.stringify(body),
    };
    if (known === null) await book.saveDelivery(delivery);
    if (delivery.state === 'waiting') {
      await this.#queue.add(
        id,
        {},
        {
          jobId: id,
          attempts: settings.timing.retries.length + 1,
          backoff: { type: 'custom' },
          removeOnComplete: { age: DAY_SECONDS },
          removeOnFail: { age: DAY_SECONDS },
          stackTraceLimit: 1,
        },
      );
    }
    return delivery;
  }

  /** One attempt; throws to be called again. */
  async #deliver(id: string, made: number): Promise<void> {
    const { book, settings, log } = this.#parts;
    const delivery = await book.delivery(id);
    const hook = delivery === null ? null : await book.find(delivery.webhook);
    if (delivery === null || delivery.state !== 'waiting') return;
    if (hook === null || hook.stopped !== null) {
      await book.saveDelivery({ ...delivery, state: 'failed', next: null });
      return;
    }
    const attempt = await this.#attempt(hook, delivery);
    const attempts = [...delivery.attempts, attempt];
    const good = attempt.error === null;
    this.#parts.told(good);
    const pause = settings.timing.retries[made];
    const last = pause === undefined || attempt.status === GONE;
    const state = good ? 'delivered' : last ? 'failed' : 'waiting';
    const next = state === 'waiting' ? Date.now() + (pause ?? 0) : null;
    await book.saveDelivery({ ...delivery, attempts, state, next });
    log.info(
      {
        webhook: hook.id,
        delivery: id,
        batch: delivery.batch,
        status: attempt.status,
        reason: attempt.error,
        attempt: made + 1,
      },
      good ? 'webhook delivered' : 'webhook not delivered',
    );
    if (attempt.status === GONE) await book.save({ ...hook, stopped: 'the receiver answered 410 Gone' });
    if (state === 'waiting') throw new PairstopError('PS_PENDING', attempt.error ?? 'not delivered');
  }

  async #attempt(hook: StoredWebhook, { id, body }: StoredDelivery): Promise<DeliveryAttempt> {
    const { guard, settings } = this.#parts;
    const at = Date.now();
    const ended = (status: number | null, error: string | null): DeliveryAttempt => ({
      at,
      ms: Date.now() - at,
      status,
      error,
    });
    try {
      const timestamp = new Date(at);
      const valid = hook.secrets.filter(({ until }) => until === null || until > at);
      const signatures = valid.map(({ secret }) => new Webhook(secret).sign(id, timestamp, body));
      const answer = await request(guard.requireUrl(hook.url), {
        method: 'POST',
        dispatcher: this.#agent,
        signal: AbortSignal.timeout(settings.timing.attempt),
        headers: {
          'content-type': 'application/json',
          'user-agent': 'pairstop',
          'webhook-id': id,
          'webhook-timestamp': String(Math.floor(at / 1_000)),
          'webhook-signature': signatures.join(' '),
        },
        body,
      });
      await answer.body.dump({ limit: ANSWER_MOST });
      const status = answer.statusCode;
      if (status >= 200 && status < 300) return ended(status, null);
      const redirect = status >= 300 && status < 400 ? '; redirects are not followed' : '';
      return ended(status, `the receiver answered ${status}${redirect}`);
    } catch (error) {
      return ended(null, reasonOf(error));
    }
  }
}
