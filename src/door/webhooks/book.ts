/** What is known of webhooks: where they go, what they are told, each delivery and each attempt at it. */
import { randomBytes } from 'node:crypto';
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Session } from '../../queue/client/session.js';
import { show } from '../../read/problems.js';

export const ENDS = ['done', 'failed', 'cancelled'] as const;

const SECRET_BYTES = 32;
const DELIVERIES_KEPT = 1_000;
const KEPT_SECONDS = 30 * 86_400;
const HOOKS_MOST = 100;

const webhookSchema = z.object({
  id: z.string(),
  shop: z.string(),
  /** The key it was made with; null: a door without keys. */
  key: z.string().nullable(),
  url: z.string(),
  events: z.array(z.enum(ENDS)),
  /** Told of every batch handed in with that key, not only of those that name it. */
  every: z.boolean(),
  made: z.number(),
  /** Newest first; the older ones hold until their time. */
  secrets: z.array(z.object({ secret: z.string(), until: z.number().nullable() })),
  /** Why it is not sent any more. */
  stopped: z.string().nullable(),
});
export type StoredWebhook = z.output<typeof webhookSchema>;

const attemptSchema = z.object({
  at: z.number(),
  ms: z.number(),
  status: z.number().nullable(),
  error: z.string().nullable(),
});
const deliverySchema = z.object({
  id: z.string(),
  webhook: z.string(),
  type: z.string(),
  batch: z.string().nullable(),
  state: z.enum(['waiting', 'delivered', 'failed']),
  made: z.number(),
  attempts: z.array(attemptSchema),
  /** When it is tried again. */
  next: z.number().nullable(),
  body: z.string(),
});
export type StoredDelivery = z.output<typeof deliverySchema>;
export type DeliveryAttempt = z.output<typeof attemptSchema>;

/** A batch whose end someone waits for. */
export interface Followed {
  readonly shop: string;
  readonly work: WorkKind;
  readonly id: string;
}

function parsed<S extends z.ZodType>(schema: S, text: string | null | undefined): z.output<S> | null {
  try {
    return schema.safeParse(JSON.parse(text ?? '')).data ?? null;
  } catch {
    return null;
  }
}

/** `whsec_` and base64, as Standard Webhooks has it. */
export function newSecret(): string {
  return `whsec_${randomBytes(SECRET_BYTES).toString('base64')}`;
}

export class WebhookBook {
  readonly #session: Session;
  readonly #prefix: string;
  #asking: Promise<readonly StoredWebhook[]> | null = null;

  constructor(session: Session, prefix: string) {
    this.#session = session;
    this.#prefix = `${prefix}:door`;
  }

  get #hooks(): string {
    return `${this.#prefix}:webhooks`;
  }

  get #following(): string {
    return `${this.#prefix}:following`;
  }

  #delivery(id: string): string {
    return `${this.#prefix}:delivery:${id}`;
  }

  #deliveries(hook: string): string {
    return `${this.#prefix}:deliveries:${hook}`;
  }

  #ask<T>(what: string, ask: () => Promise<T>): Promise<T> {
    return this.#session.ask(what, ask);
  }

  /** Those who ask in one turn of the event loop share one question, which is put at its end: fifty submissions, one. */
  all(): Promise<readonly StoredWebhook[]> {
    this.#asking ??= new Promise<void>((resolve) => setImmediate(resolve)).then(() => {
      this.#asking = null;
      return this.#list();
    });
    return this.#asking;
  }

  async #list(): Promise<readonly StoredWebhook[]> {
    const texts = await this.#ask('listing webhooks', () => this.#session.redis.hvals(this.#hooks));
    return texts.flatMap((text) => parsed(webhookSchema, text) ?? []).sort((a, b) => a.made - b.made);
  }

  async ofShop(shop: string): Promise<StoredWebhook[]> {
    return (await this.all()).filter((hook) => hook.shop === shop);
  }

  async find(id: string): Promise<StoredWebhook | null> {
    return parsed(
      webhookSchema,
      await this.#ask('looking for a webhook', () => this.#session.redis.hget(this.#hooks, id)),
    );
  }

  /** Throws PS_WEBHOOK for one that is not there, or another shop's. */
  async require(shop: string, id: string): Promise<StoredWebhook> {
    const found = await this.find(id);
    if (found !== null && found.shop === shop) return found;
    throw new PairstopError('PS_WEBHOOK', `no webhook ${show(id)} is known`);
  }

  async add(given: Pick<StoredWebhook, 'shop' | 'key' | 'url' | 'events' | 'every'>): Promise<StoredWebhook> {
    if ((await this.ofShop(given.shop)).length >= HOOKS_MOST) {
      throw new PairstopError('PS_RATE', `a shop has at most ${HOOKS_MOST} webhooks`);
    }
    const id = `wh_${randomBytes(9).toString('base64url')}`;
    const hook: StoredWebhook = {
      ...given,
      id,
      made: Date.now(),
      secrets: [{ secret: newSecret(), until: null }],
      stopped: null,
    };
    await this.save(hook);
    return hook;
  }

  async save(hook: StoredWebhook): Promise<void> {
    await this.#ask('keeping a webhook', () =>
      this.#session.redis.hset(this.#hooks, hook.id, JSON.stringify(hook)),
    );
  }

  async remove(id: string): Promise<void> {
    await this.#ask('removing a webhook', () => this.#session.redis.hdel(this.#hooks, id));
    await this.#ask('removing its deliveries', () => this.#session.redis.del(this.#deliveries(id)));
  }

  /** Remembers who is to be told of a batch's end. */
  async follow({ shop, work, id }: Followed, hooks: readonly string[]): Promise<void> {
    const field = JSON.stringify([shop, work, id]);
    await this.#ask('following a batch', async () => {
      const known = parsed(z.array(z.string()), await this.#session.redis.hget(this.#following, field)) ?? [];
      const all = [...new Set([...known, ...hooks])];
      await this.#session.redis.hset(this.#following, field, JSON.stringify(all));
    });
  }

  async followers({ shop, work, id }: Followed): Promise<string[]> {
    const field = JSON.stringify([shop, work, id]);
    const text = await this.#ask('asking who follows', () =>
      this.#session.redis.hget(this.#following, field),
    );
    return parsed(z.array(z.string()), text) ?? [];
  }

  async unfollow({ shop, work, id }: Followed): Promise<void> {
    await this.#ask('no longer following', () =>
      this.#session.redis.hdel(this.#following, JSON.stringify([shop, work, id])),
    );
  }

  async followed(): Promise<Followed[]> {
    const fields = await this.#ask('listing what is followed', () =>
      this.#session.redis.hkeys(this.#following),
    );
    const shape = z.tuple([z.string(), z.enum(['plan', 'compare']), z.string()]);
    return fields.flatMap((field) => {
      const found = parsed(shape, field);
      return found === null ? [] : [{ shop: found[0], work: found[1], id: found[2] }];
    });
  }

  async saveDelivery(delivery: StoredDelivery): Promise<void> {
    const { id, webhook, made } = delivery;
    await this.#ask('keeping a delivery', async () => {
      const { redis } = this.#session;
      await redis.set(this.#delivery(id), JSON.stringify(delivery), 'EX', KEPT_SECONDS);
      await redis.zadd(this.#deliveries(webhook), made, id);
      await redis.zremrangebyrank(this.#deliveries(webhook), 0, -DELIVERIES_KEPT - 1);
      await redis.expire(this.#deliveries(webhook), KEPT_SECONDS);
    });
  }

  async delivery(id: string): Promise<StoredDelivery | null> {
    const text = await this.#ask('looking for a delivery', () => this.#session.redis.get(this.#delivery(id)));
    return parsed(deliverySchema, text);
  }

  /** Newest first. */
  async deliveriesOf(hook: string, most: number): Promise<StoredDelivery[]> {
    const ids = await this.#ask('listing deliveries', () =>
      this.#session.redis.zrevrange(this.#deliveries(hook), 0, most - 1),
    );
    const all = await Promise.all(ids.map((id) => this.delivery(id)));
    return all.filter((one) => one !== null);
  }
}
