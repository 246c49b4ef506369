/** Batches and comparisons: the same job in two kinds, so the same routes for both. */

import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { PairstopError } from '../../errors.js';
import type { OrderGiven } from '../../orders/order.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { Submission } from '../../queue/client/client.js';
import type { BatchStatus } from '../../queue/client/status.js';
import { ID_LENGTH } from '../../read/limits.js';
import { type Caller, callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { bytesIn } from '../http/bytes.js';
import { formOf, waitOf } from '../http/negotiate.js';
import {
  batchPage,
  batchStatus,
  documents,
  flagQuery,
  idPath,
  state,
  submission,
} from '../openapi/resources.js';
import { answers, empty, problems } from '../openapi/responses.js';
import { changeOf, isOver, type Watched } from '../progress/hub.js';
import { EventStream } from '../progress/stream.js';
import { FORMS, sendResult } from './results.js';
import { hooksFor } from './webhooks.js';

/** Bytes up to which a batch is read here; larger ones would keep others waiting and are read in a thread. */
const HERE_MOST = 131_072;

/** A job's id, percent-encoded, and the moment before it. */
const PLACE_LENGTH = ID_LENGTH * 12 + 20;

interface Kind {
  readonly work: WorkKind;
  /** The first part of the path. */
  readonly path: 'batches' | 'comparisons';
  /** What comes out, and its name in the path. */
  readonly result: 'plan' | 'result';
  readonly one: string;
}

const KINDS: readonly Kind[] = [
  { work: 'plan', path: 'batches', result: 'plan', one: 'a batch' },
  { work: 'compare', path: 'comparisons', result: 'result', one: 'a comparison' },
];

/** What the query adds to an order in CSV; null: the body is JSON. */
function csvGiven(request: FastifyRequest): OrderGiven | null {
  if (!/^text\/csv\b/i.test(request.headers['content-type'] ?? '')) return null;
  const { id = 'order', units } = request.query as { readonly id?: string; readonly units?: string };
  return { id, ...(units === undefined ? {} : { units }) };
}

export function pathOf({ path }: Pick<Kind, 'path'>, id: string): string {
  return `/v1/${path}/${encodeURIComponent(id)}`;
}

function linksOf(kind: Kind, id: string) {
  const self = pathOf(kind, id);
  return { self, events: `${self}/events`, result: `${self}/${kind.result}` };
}

function watchedOf({ shop, client }: Caller, { work }: Kind, id: string): Watched {
  return { shop, client, work, id };
}

const preferHeader = z.object({
  prefer: z
    .string()
    .optional()
    .describe('wait=10: answer with the result if it is there within so many seconds (RFC 7240), at most 60'),
});

function addKind(app: DoorApp, context: DoorContext, kind: Kind): void {
  const { work, path, result, one } = kind;
  const { hub, heavy, shops, limits, settings, courier } = context;
  const tags = [path];
  const names = work === 'plan' ? { id: 'Batch', of: 'plan' } : { id: 'Comparison', of: 'comparison' };

  async function submit(
    caller: Caller,
    body: Buffer,
    csv: OrderGiven | null,
    replace: boolean,
  ): Promise<Submission> {
    if (csv !== null) {
      const bytes = await heavy.run({ do: 'csv', shop: caller.shop, work, replace, body, named: csv });
      return JSON.parse(bytes.toString()) as Submission;
    }
    if (body.length <= HERE_MOST) return caller.client.submit(body, { work, replace });
    const bytes = await heavy.run({ do: 'submit', shop: caller.shop, work, replace, body });
    return JSON.parse(bytes.toString()) as Submission;
  }

  app.post(
    `/v1/${path}`,
    {
      config: { scope: 'submit', csv: true },
      schema: {
        operationId: `submit${names.id}`,
        summary: `Hand in ${one}`,
        description:
          'The same id and content is the same job, however often it is handed in: 202 the first time, 200 afterwards. The same id with other content is refused (409), unless the earlier one failed, was cancelled, or is to be replaced and is not being cut. With "Prefer: wait=10" the answer is the result, if it is there by then.',
        tags,
        headers: preferHeader,
        querystring: z
          .strictObject({
            id: z
              .string()
              .min(1)
              .max(ID_LENGTH)
              .describe('of CSV: the id of the batch where the tables name none')
              .optional(),
            units: z
              .enum(['in', 'mm'])
              .describe('of CSV: "in" or "mm", where the tables name none')
              .optional(),
            replace: flagQuery('other content under the same id makes room, and stays as a revision'),
            webhook: z
              .string()
              .min(1)
              .max(64)
              .describe('the id of a webhook to be told when it has ended')
              .optional(),
          })
          .describe('the query'),
        body: documents.Batch,
        response: {
          200: answers('known already; with Prefer, the result', submission),
          202: answers('taken; Location says where it is', submission),
          ...problems(406, 409, 413, 415, 422),
        },
      },
    },
    async (request, reply) => {
      const caller = callerIn(request);
      const wait = waitOf(request.headers.prefer);
      const form = wait > 0 ? formOf(request, FORMS[work], undefined) : 'json';
      const hooks = await hooksFor(context, caller, request.query.webhook);
      await shops.requireRoom(caller.shop);
      const taken = await submit(
        caller,
        bytesIn(request),
        csvGiven(request),
        request.query.replace === 'true',
      );
      await courier.follow({ shop: caller.shop, work, id: taken.id }, hooks);
      const links = linksOf(kind, taken.id);
      reply.header('location', links.self);
      if (wait > 0) {
        reply.header('preference-applied', `wait=${wait / 1_000}`);
        const status = await waited(caller, taken.id, wait, request);
        if (status.state === 'done') {
          reply.header('content-location', links.result);
          return sendResult(request, reply, context, { caller, work, status, form, partial: false });
        }
      }
      return reply.code(taken.outcome === 'same' ? 200 : 202).send({ ...taken, links });
    },
  );

  app.get(
    `/v1/${path}`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: work === 'plan' ? 'listBatches' : 'listComparisons',
        summary: work === 'plan' ? 'The batches there are' : 'The comparisons there are',
        description: 'Newest first, a page at a time: ask on with after, while next is not null.',
        tags,
        querystring: z
          .strictObject({
            state: state.describe('only those in this state').optional(),
            since: z
              .string()
              .regex(/^\d{1,16}$/)
              .describe('only those submitted since, milliseconds since 1970')
              .optional(),
            limit: z
              .string()
              .regex(/^\d{1,4}$/)
              .describe('at most so many on a page, 1 to 1000; by default 50')
              .optional(),
            after: z.string().min(1).max(PLACE_LENGTH).describe('next of the page before').optional(),
          })
          .describe('the query'),
        response: { 200: answers('a page of them', batchPage), ...problems() },
      },
    },
    async (request) => {
      const { state: wanted, since, limit, after } = request.query;
      const page = await callerIn(request).client.list({
        work,
        ...(wanted !== undefined && { state: wanted }),
        ...(since !== undefined && { since: Number(since) }),
        ...(limit !== undefined && { limit: Number(limit) }),
        ...(after !== undefined && { after }),
      });
      return { ...page, batches: [...page.batches] };
    },
  );

  /** The status once it is over, or after the wait. */
  async function waited(
    caller: Caller,
    id: string,
    wait: number,
    request: FastifyRequest,
  ): Promise<BatchStatus> {
    const { client } = caller;
    const status = await client.status(id, { work });
    if (wait === 0 || isOver(status)) return status;
    const gone = new AbortController();
    const leave = (): void => gone.abort();
    request.raw.once('close', leave);
    try {
      return (
        (await hub.wait(watchedOf(caller, kind, id), wait, gone.signal)) ??
        (await client.status(id, { work }))
      );
    } finally {
      request.raw.off('close', leave);
    }
  }

  app.get(
    `/v1/${path}/:id`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `status${names.id}`,
        summary: `How ${one} is doing`,
        tags,
        headers: preferHeader,
        params: idPath,
        response: { 200: answers('its state, times, progress and proof', batchStatus), ...problems(404) },
      },
    },
    async (request) => waited(callerIn(request), request.params.id, waitOf(request.headers.prefer), request),
  );

  app.delete(
    `/v1/${path}/:id`,
    {
      config: { scope: 'submit' },
      schema: {
        operationId: `cancel${names.id}`,
        summary: `Cancel ${one}`,
        description:
          'Ends what waits or runs. What is cancelled already stays so (200); what is done or failed is refused (409).',
        tags,
        params: idPath,
        response: { 200: answers('it is cancelled', batchStatus), ...problems(404, 409) },
      },
    },
    async (request) => {
      const { client } = callerIn(request);
      const { id } = request.params;
      const state = await client.cancel(id, { work });
      if (state !== 'cancelled') {
        throw new PairstopError('PS_ENDED', `${JSON.stringify(id)} is ${state} and cannot be cancelled`);
      }
      return client.status(id, { work });
    },
  );

  app.get(
    `/v1/${path}/:id/document`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `document${names.id}`,
        summary: 'The batch as it was handed in',
        tags,
        params: idPath,
        response: { 200: answers('the batch', documents.Batch), ...problems(404, 409) },
      },
    },
    async (request, reply) => {
      const { shop } = callerIn(request);
      const bytes = await heavy.run({ do: 'document', shop, work, id: request.params.id });
      return reply.type('application/json').send(bytes);
    },
  );

  app.get(
    `/v1/${path}/:id/${result}`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `result${names.id}`,
        summary: `The ${names.of}`,
        description:
          'In the form that Accept, or ?form=, asks for. 409 while there is none (PS_PENDING), when it was cancelled, or when it failed; the code says which.',
        tags,
        headers: preferHeader,
        params: idPath,
        querystring: z
          .strictObject({
            form: z
              .enum(FORMS[work] as ['json'])
              .describe(FORMS[work].join(' or '))
              .optional(),
            partial: flagQuery('of a failed batch, what could be planned'),
          })
          .describe('the query'),
        response: {
          200: answers(
            `the ${names.of}`,
            work === 'plan' ? documents.Plan : documents.Comparison,
            'text/plain',
            ...(work === 'plan' ? (['text/html', 'text/csv'] as const) : (['image/svg+xml'] as const)),
          ),
          304: empty('as the If-None-Match says, you have it'),
          ...problems(404, 406, 409),
        },
      },
    },
    async (request, reply) => {
      const caller = callerIn(request);
      const { form: named, partial } = request.query;
      const form = formOf(request, FORMS[work], named);
      const status = await waited(caller, request.params.id, waitOf(request.headers.prefer), request);
      return sendResult(request, reply, context, { caller, work, status, form, partial: partial === 'true' });
    },
  );

  app.get(
    `/v1/${path}/:id/events`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `events${names.id}`,
        summary: 'Its progress, as it comes',
        description:
          'Server-Sent Events. Each event is named by the state (waiting, running, done, failed, cancelled), has an id and holds the status as JSON. The stream ends after the last one. With Last-Event-ID only what is new comes; after the last one, 204.',
        tags,
        params: idPath,
        response: {
          200: answers('the stream', null, 'text/event-stream'),
          204: empty('it is over, and you have had its last event'),
          ...problems(404),
        },
      },
    },
    async (request, reply) => {
      const caller = callerIn(request);
      const { id } = request.params;
      const change = changeOf(await caller.client.status(id, { work }));
      const sent = String(request.headers['last-event-id'] ?? '') || null;
      if (change.over && change.id === sent) return reply.code(204).send();
      const leaveLimit = limits.listen(caller.key ?? '', caller.allowance);
      stream(reply, watchedOf(caller, kind, id), sent, leaveLimit);
      return reply;
    },
  );

  function stream(reply: FastifyReply, watched: Watched, sent: string | null, leaveLimit: () => void): void {
    const headers = reply.getHeaders() as Record<string, string>;
    reply.hijack();
    const events = new EventStream(reply.raw, { sent, heartbeat: settings.timing.heartbeat });
    events.begin(headers);
    const leave = hub.hear(watched, events);
    reply.raw.once('close', () => {
      leave();
      leaveLimit();
    });
  }
}

export function addBatchRoutes(app: DoorApp, context: DoorContext): void {
  for (const kind of KINDS) addKind(app, context, kind);
}
