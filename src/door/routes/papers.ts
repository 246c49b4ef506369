/** What is printed and pinned up: the sheet, labels, lists; and recuts of a batch's plan, which have sheets too. */

import type { FastifyReply, FastifyRequest } from 'fastify';
import * as z from 'zod';
import { textField } from '../../read/fields.js';
import { ID_LENGTH } from '../../read/limits.js';
import { LIST_KINDS, type ListKind } from '../../sheet/lists/lists.js';
import { type Caller, callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { bytesIn } from '../http/bytes.js';
import { formOf } from '../http/negotiate.js';
import { sendTagged, tagOf } from '../http/send.js';
import { recutOfBody } from '../openapi/bodies.js';
import { documents, idPath, ofRevision, resource, revisionQuery, tagHeader } from '../openapi/resources.js';
import { answers, empty, problems } from '../openapi/responses.js';
import { asRevision, type RevisionWanted, recutsPath, revisionIn } from '../revision.js';
import { requireResult, SHEET_HEADERS, sendResult } from './results.js';

const labelQuery = z
  .strictObject({
    size: z.string().max(30).describe('of a label in mm, as 63x38').optional(),
    grid: z.string().max(30).describe('labels across and down a page, as 3x7; without it, a roll').optional(),
    margin: z.string().max(30).describe('left and top margin in mm, as 7x15').optional(),
    gap: z.string().max(30).describe('gaps across and down in mm, as 2x0').optional(),
    page: z.string().max(30).describe('a4, letter, or its size in mm').optional(),
    revision: revisionQuery,
  })
  .describe('the query');

const madeRecut = resource(
  'MadeRecut',
  z
    .object({
      id: z.string(),
      status: z.enum(['complete', 'short']),
      self: z.string().describe('where it is kept'),
      sheet: z.string().describe('its sheet'),
      recut: documents.Recut,
    })
    .describe('a recut that was made and kept'),
);

const recutPath = z
  .strictObject({
    id: textField(ID_LENGTH * 4, "the batch's id, percent-encoded"),
    recut: textField(64, 'the id of the recut'),
  })
  .describe('the path');

const RECUT_FORMS = ['json', 'text', 'html'] as const;
const HAVE_IT = { 304: empty('as the If-None-Match says, you have it') };

function wantedIn(request: {
  readonly params: { readonly id: string };
  readonly query: { readonly revision?: string | undefined };
}): RevisionWanted {
  return { id: request.params.id, revision: revisionIn(request.query) };
}

export function addPaperRoutes(app: DoorApp, context: DoorContext): void {
  const { heavy, recuts } = context;
  const tags = ['batches'];
  const config = { scope: 'read' as const };

  app.get(
    '/v1/batches/:id/sheet',
    {
      config,
      schema: {
        operationId: 'sheetOfBatch',
        summary: 'The sheet of the plan: paper to print, and the bench card',
        tags,
        headers: tagHeader,
        params: idPath,
        querystring: ofRevision,
        response: {
          200: answers('one page, whole in itself', null, 'text/html'),
          ...HAVE_IT,
          ...problems(404, 406, 409),
        },
      },
    },
    async (request, reply) => {
      const caller = callerIn(request);
      formOf(request, ['html'], undefined);
      const revision = revisionIn(request.query);
      const status = await caller.client.status(request.params.id, asRevision({ revision }));
      return sendResult(request, reply, context, {
        caller,
        work: 'plan',
        status,
        form: 'html',
        partial: false,
        revision,
      });
    },
  );

  /** The tag of what is made of a batch's plan. Throws for a batch that has none. */
  async function planTag(
    { client, shop }: Caller,
    { id, revision }: RevisionWanted,
    ...parts: readonly string[]
  ): Promise<string> {
    const status = await client.status(id, asRevision({ revision }));
    requireResult(status, false);
    return tagOf(shop, status.fingerprint, status.run, status.finished, revision ?? 0, ...parts);
  }

  app.get(
    '/v1/batches/:id/labels',
    {
      config,
      schema: {
        operationId: 'labelsOfBatch',
        summary: 'Labels: one a rail, stick and offcut to keep, in cutting order',
        tags,
        headers: tagHeader,
        params: idPath,
        querystring: labelQuery,
        response: {
          200: answers('a page to print', null, 'text/html'),
          ...HAVE_IT,
          ...problems(404, 406, 409),
        },
      },
    },
    async (request, reply) => {
      const caller = callerIn(request);
      const { id } = request.params;
      const revision = revisionIn(request.query);
      formOf(request, ['html'], undefined);
      const { size, grid, margin, gap, page } = request.query;
      const texts = {
        ...(size === undefined ? {} : { labelSize: size }),
        ...(grid === undefined ? {} : { labelGrid: grid }),
        ...(margin === undefined ? {} : { labelMargin: margin }),
        ...(gap === undefined ? {} : { labelGap: gap }),
        ...(page === undefined ? {} : { labelPage: page }),
      };
      const tag = await planTag(caller, { id, revision }, 'labels', JSON.stringify(texts));
      return sendTagged(request, reply, { tag, form: 'html', headers: SHEET_HEADERS }, () =>
        heavy.run({ do: 'labels', shop: caller.shop, id, revision, texts }),
      );
    },
  );

  const sendList = async (
    request: FastifyRequest,
    reply: FastifyReply,
    { id, revision }: RevisionWanted,
    kind: ListKind | null,
  ): Promise<FastifyReply> => {
    const caller = callerIn(request);
    const form = formOf(request, [kind === null ? 'json' : 'csv'], undefined);
    const tag = await planTag(caller, { id, revision }, 'list', kind ?? 'all');
    return sendTagged(request, reply, { tag, form }, () =>
      heavy.run({ do: 'list', shop: caller.shop, id, revision, kind }),
    );
  };
  app.get(
    '/v1/batches/:id/lists',
    {
      config,
      schema: {
        operationId: 'listsOfBatch',
        summary: 'All lists of the plan: to buy, glass, sizes, rails, joining, cutting',
        tags,
        headers: tagHeader,
        params: idPath,
        querystring: ofRevision,
        response: {
          200: answers('pairstop/lists@1', z.looseObject({})),
          ...HAVE_IT,
          ...problems(404, 406, 409),
        },
      },
    },
    (request, reply) => sendList(request, reply, wantedIn(request), null),
  );
  app.get(
    '/v1/batches/:id/lists/:list',
    {
      config,
      schema: {
        operationId: 'listOfBatch',
        summary: 'One list of the plan, as CSV',
        tags,
        headers: tagHeader,
        params: z
          .strictObject({
            id: textField(ID_LENGTH * 4, "the batch's id, percent-encoded"),
            list: z.enum(LIST_KINDS).describe(LIST_KINDS.join(', ')),
          })
          .describe('the path'),
        querystring: ofRevision,
        response: { 200: answers('the list', null, 'text/csv'), ...HAVE_IT, ...problems(404, 406, 409) },
      },
    },
    (request, reply) => sendList(request, reply, wantedIn(request), request.params.list),
  );

  async function make(
    request: FastifyRequest,
    reply: FastifyReply,
    wanted: RevisionWanted,
    of: string | null,
  ): Promise<object> {
    const { shop, name, scopes } = callerIn(request);
    const { id } = wanted;
    formOf(request, ['json'], undefined);
    const earlier = of === null ? null : (await recuts.find(shop, id, of)).toString();
    const who = scopes.includes('submit') ? name : null;
    const bytes = await heavy.run({ do: 'recutOf', shop, ...wanted, body: bytesIn(request), earlier, who });
    const recut = await recuts.keep(shop, id, bytes);
    const self = recutsPath(wanted, recut);
    const made = JSON.parse(bytes.toString()) as { status: string };
    reply.code(201).header('location', self).header('cache-control', 'no-store');
    const sheet = `${self}${self.includes('?') ? '&' : '?'}form=html`;
    return { id: recut, status: made.status, self, sheet, recut: made };
  }
  const making = {
    tags,
    body: recutOfBody,
    response: { 201: answers('the recut', madeRecut), ...problems(404, 406, 409, 413, 415, 422) },
  };
  app.post(
    '/v1/batches/:id/recuts',
    {
      config,
      schema: {
        operationId: 'recutOfBatch',
        summary: "Go on after a bad cut of the batch's plan",
        description:
          "What is lost is replaced from what is left of the plan's sticks. Of a batch from the shop's rack also from what is free there, which is reserved in the step that keeps the recut, if the key has the scope submit.",
        params: idPath,
        querystring: ofRevision,
        ...making,
      },
    },
    (request, reply) => make(request, reply, wantedIn(request), null) as never,
  );
  app.post(
    '/v1/batches/:id/recuts/:recut/recuts',
    {
      config,
      schema: {
        operationId: 'recutOfRecut',
        summary: 'Go on after another, from a recut',
        params: recutPath,
        querystring: ofRevision,
        ...making,
      },
    },
    (request, reply) => make(request, reply, wantedIn(request), request.params.recut) as never,
  );
  app.get(
    '/v1/batches/:id/recuts/:recut',
    {
      config,
      schema: {
        operationId: 'recutKept',
        summary: 'A recut that was made: its document, page or sheet',
        tags,
        headers: tagHeader,
        params: recutPath,
        querystring: z
          .strictObject({
            form: z.enum(RECUT_FORMS).describe(RECUT_FORMS.join(' or ')).optional(),
            revision: revisionQuery,
          })
          .describe('the query'),
        response: {
          200: answers('the recut', documents.Recut, 'text/plain', 'text/html'),
          ...HAVE_IT,
          ...problems(404, 406),
        },
      },
    },
    async (request, reply) => {
      const { shop } = callerIn(request);
      const wanted = wantedIn(request);
      const { id, recut } = request.params;
      const form = formOf(request, RECUT_FORMS, request.query.form);
      const body = await recuts.find(shop, id, recut);
      const headers = form === 'html' ? SHEET_HEADERS : {};
      const next = recutsPath(wanted, recut, true);
      const tag = tagOf(shop, id, wanted.revision ?? 0, recut, form);
      return sendTagged(request, reply, { tag, form, headers }, async () =>
        form === 'json'
          ? body
          : heavy.run({ do: 'recutPage', shop, ...wanted, body, form, next, made: Date.now() }),
      );
    },
  );
}
