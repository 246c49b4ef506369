/** Webhooks: made, looked at, tried, their secrets changed; and what was delivered. */
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import { list } from '../../read/walk.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { resource } from '../openapi/resources.js';
import { answers, empty, problems } from '../openapi/responses.js';
import { ENDS, newSecret, type StoredDelivery, type StoredWebhook } from '../webhooks/book.js';

const moment = z.number().describe('milliseconds since 1970');
const url = z.string().min(1).max(2_000).describe('where it is sent, an https URL: 1 to 2000 characters');
const events = list(
  z.enum(ENDS).describe('"done", "failed" or "cancelled"'),
  1,
  ENDS.length,
  'ends of a batch it is told of',
);
const every = z
  .boolean()
  .describe('told of every batch handed in with this key, not only of those that name it: true or false');

const facts = {
  id: z.string(),
  url: z.string(),
  events: z.array(z.enum(ENDS)),
  every: z.boolean(),
  made: moment,
  stopped: z.string().nullable().describe('why it is not sent any more'),
};

const webhook = resource('Webhook', z.object(facts).describe('a webhook, without its secret'));
const secretWebhook = resource(
  'WebhookWithSecret',
  z
    .object({ ...facts, secret: z.string().describe('whsec_ and base64; shown this once') })
    .describe('a webhook with its secret'),
);
const webhooks = resource(
  'Webhooks',
  z.object({ webhooks: z.array(webhook) }).describe('the webhooks of the shop'),
);
const delivery = resource(
  'WebhookDelivery',
  z
    .object({
      id: z.string().describe('the webhook-id'),
      webhook: z.string(),
      type: z.string().describe('as batch.done'),
      batch: z.string().nullable(),
      state: z.enum(['waiting', 'delivered', 'failed']),
      made: moment,
      attempts: z.array(
        z.object({ at: moment, ms: z.number(), status: z.number().nullable(), error: z.string().nullable() }),
      ),
      next: moment.nullable().describe('when it is tried again'),
    })
    .describe('what was, or is to be, sent'),
);
const deliveries = resource(
  'WebhookDeliveries',
  z.object({ deliveries: z.array(delivery) }).describe('newest first'),
);
const newWebhook = resource(
  'NewWebhook',
  z
    .strictObject({ url, events: events.optional(), every: every.optional() })
    .describe('an object with url, events and every'),
);
const changedWebhook = resource(
  'ChangedWebhook',
  z
    .strictObject({ url: url.optional(), events: events.optional(), every: every.optional() })
    .describe('an object with what is to change: url, events, every'),
);

const hookPath = z
  .strictObject({ id: z.string().min(1).max(64).describe('the id of a webhook') })
  .describe('the path');
const rotation = z
  .strictObject({
    overlap: z.coerce
      .number()
      .int()
      .min(0)
      .max(30 * 86_400)
      .describe(
        'seconds the old secret still signs beside the new one (a day): a whole number from 0 to 2592000',
      )
      .optional(),
  })
  .describe('the query');
const SECOND = 1_000;
const DAY_SECONDS = 86_400;
const SHOWN = 200;
/** Secrets that sign at one time. */
const SECRETS_MOST = 3;

function shown({ id, url: where, events: told, every: all, made, stopped }: StoredWebhook) {
  return { id, url: where, events: told, every: all, made, stopped };
}

function shownDelivery({ body: _body, ...rest }: StoredDelivery): Omit<StoredDelivery, 'body'> {
  return rest;
}

export function addWebhookRoutes(app: DoorApp, { book, courier, guard }: DoorContext): void {
  const tags = ['webhooks'];
  const config = { scope: 'submit' as const };
  app.post(
    '/v1/webhooks',
    {
      config: { ...config, parsed: true },
      schema: {
        operationId: 'addWebhook',
        summary: 'Be told when a batch has ended',
        description: [
          'By Standard Webhooks: a POST of {"type", "timestamp", "data"}, where type is batch.done, batch.failed, batch.cancelled, the same of comparison, or pairstop.test, and data has id, state, outcome and links: self, and result, where the plan is.',
          'To check one: take the bytes of the body as they came, write webhook-id, a dot, webhook-timestamp, a dot and the body one after the other; HMAC-SHA256 of that, keyed with the secret (base64-decoded, without its whsec_), in base64, must be one of the signatures in webhook-signature, which are parted by spaces and each begin with "v1,". Refuse a webhook-timestamp (seconds since 1970) that is more than five minutes off.',
          'Answer 2xx within 15 s; anything else is tried again over a day, 410 stops it. It may come twice under one webhook-id. Private addresses are refused, redirects not followed. With "every" it is told of all batches handed in with this key; else of those handed in with ?webhook=ID.',
        ].join('\n\n'),
        tags,
        body: newWebhook,
        response: { 201: answers('the webhook, with its secret', secretWebhook), ...problems(413, 415, 422) },
      },
    },
    async (request, reply) => {
      const { shop, key } = callerIn(request);
      const given = request.body;
      guard.requireUrl(given.url);
      const hook = await book.add({
        shop,
        key,
        url: given.url,
        events: given.events ?? [...ENDS],
        every: given.every ?? false,
      });
      reply.code(201).header('location', `/v1/webhooks/${hook.id}`).header('cache-control', 'no-store');
      return { ...shown(hook), secret: hook.secrets[0]!.secret };
    },
  );
  app.get(
    '/v1/webhooks',
    {
      config,
      schema: {
        operationId: 'listWebhooks',
        summary: 'The webhooks of the shop',
        tags,
        response: { 200: answers('all of them', webhooks), ...problems() },
      },
    },
    async (request) => ({ webhooks: (await book.ofShop(callerIn(request).shop)).map(shown) }),
  );
  app.get(
    '/v1/webhooks/:id',
    {
      config,
      schema: {
        operationId: 'webhook',
        summary: 'One webhook',
        tags,
        params: hookPath,
        response: { 200: answers('the webhook', webhook), ...problems(404) },
      },
    },
    async (request) => shown(await book.require(callerIn(request).shop, request.params.id)),
  );
  app.put(
    '/v1/webhooks/:id',
    {
      config: { ...config, parsed: true },
      schema: {
        operationId: 'changeWebhook',
        summary: 'Change a webhook; one that was stopped is sent again',
        tags,
        params: hookPath,
        body: changedWebhook,
        response: { 200: answers('the webhook', webhook), ...problems(404, 413, 415, 422) },
      },
    },
    async (request) => {
      const hook = await book.require(callerIn(request).shop, request.params.id);
      const given = request.body;
      if (given.url !== undefined) guard.requireUrl(given.url);
      const changed: StoredWebhook = {
        ...hook,
        url: given.url ?? hook.url,
        events: given.events ?? hook.events,
        every: given.every ?? hook.every,
        stopped: null,
      };
      await book.save(changed);
      return shown(changed);
    },
  );
  app.delete(
    '/v1/webhooks/:id',
    {
      config,
      schema: {
        operationId: 'removeWebhook',
        summary: 'Remove a webhook',
        tags,
        params: hookPath,
        response: { 204: empty('it is gone'), ...problems(404) },
      },
    },
    async (request, reply) => {
      await book.remove((await book.require(callerIn(request).shop, request.params.id)).id);
      return reply.code(204).send();
    },
  );
  app.post(
    '/v1/webhooks/:id/rotate',
    {
      config,
      schema: {
        operationId: 'rotateWebhook',
        summary: 'A new secret; the old one signs beside it for a while',
        tags,
        params: hookPath,
        querystring: rotation,
        response: { 200: answers('the webhook, with its new secret', secretWebhook), ...problems(404) },
      },
    },
    async (request, reply) => {
      const hook = await book.require(callerIn(request).shop, request.params.id);
      const until = Date.now() + (request.query.overlap ?? DAY_SECONDS) * SECOND;
      const old = hook.secrets.map((one) => ({ ...one, until: Math.min(one.until ?? until, until) }));
      const still = old.filter((one) => one.until > Date.now()).slice(0, SECRETS_MOST - 1);
      const changed = { ...hook, secrets: [{ secret: newSecret(), until: null }, ...still] };
      await book.save(changed);
      reply.header('cache-control', 'no-store');
      return { ...shown(changed), secret: changed.secrets[0]!.secret };
    },
  );
  app.post(
    '/v1/webhooks/:id/test',
    {
      config,
      schema: {
        operationId: 'testWebhook',
        summary: 'Send a test, of type pairstop.test',
        description:
          'The answer has the first attempt with its status or error, if the receiver answers within 3 s; it is tried again as any delivery is.',
        tags,
        params: hookPath,
        response: { 202: answers('what became of it so far', delivery), ...problems(404) },
      },
    },
    async (request, reply) => {
      const hook = await book.require(callerIn(request).shop, request.params.id);
      return reply.code(202).send(shownDelivery(await courier.test(hook)));
    },
  );
  app.get(
    '/v1/webhooks/:id/deliveries',
    {
      config,
      schema: {
        operationId: 'deliveries',
        summary: 'What was sent, each attempt with its answer',
        tags,
        params: hookPath,
        response: { 200: answers('the last ones', deliveries), ...problems(404) },
      },
    },
    async (request) => {
      const hook = await book.require(callerIn(request).shop, request.params.id);
      return { deliveries: (await book.deliveriesOf(hook.id, SHOWN)).map(shownDelivery) };
    },
  );
}

/** Who is to be told of a batch handed in by this key. Throws PS_REQUEST for a webhook that is not there. */
export async function hooksFor(
  { book }: DoorContext,
  { shop, key }: { readonly shop: string; readonly key: string | null },
  named: string | undefined,
): Promise<StoredWebhook[]> {
  const all = await book.ofShop(shop);
  const one = named === undefined ? null : all.find(({ id }) => id === named);
  if (one === undefined)
    throw new PairstopError('PS_REQUEST', `query.webhook: no webhook ${show(named)} is known`);
  return all.filter((hook) => hook === one || (hook.every && hook.key === key));
}
