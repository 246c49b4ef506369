/** What the routes share. */
import type {
  FastifyBaseLogger,
  FastifyInstance,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify';
import type { ZodTypeProvider } from 'fastify-type-provider-zod';
import type { HeavyPool } from './heavy/pool.js';
import type { UseLimits } from './http/limits.js';
import type { DoorMetrics } from './metrics.js';
import type { Hub } from './progress/hub.js';
import type { RecutBook } from './recuts.js';
import type { DoorSettings } from './settings.js';
import type { Shops } from './shops.js';
import type { WebhookBook } from './webhooks/book.js';
import type { Courier } from './webhooks/courier.js';
import type { WebhookGuard } from './webhooks/guard.js';

export interface DoorContext {
  readonly settings: DoorSettings;
  readonly shops: Shops;
  readonly hub: Hub;
  readonly heavy: HeavyPool;
  readonly limits: UseLimits;
  readonly recuts: RecutBook;
  readonly book: WebhookBook;
  readonly courier: Courier;
  readonly metrics: DoorMetrics;
  readonly guard: WebhookGuard;
  /** Whether Redis answers. */
  readonly alive: () => Promise<boolean>;
}

export type DoorApp = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression,
  RawReplyDefaultExpression,
  FastifyBaseLogger,
  ZodTypeProvider
>;
