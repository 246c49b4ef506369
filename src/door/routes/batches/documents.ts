/** The document that was handed in, and what came of it. */
import * as z from 'zod';
import { callerIn } from '../../caller.js';
import type { DoorApp, DoorContext } from '../../context.js';
import { formOf, waitOf } from '../../http/negotiate.js';
import {
  documents,
  flagQuery,
  idPath,
  ofRevision,
  revisionQuery,
  tagHeader,
} from '../../openapi/resources.js';
import { answers, empty, problems } from '../../openapi/responses.js';
import { asRevision, revisionIn } from '../../revision.js';
import { FORMS, sendResult } from '../results.js';
import { type Kind, preferHeader, waited } from './kinds.js';

export function addDocuments(app: DoorApp, context: DoorContext, kind: Kind): void {
  const { work, path, result, operation } = kind;
  const { hub } = context;
  const tags = [path];
  const outcome = result === 'plan' ? 'plan' : 'comparison';

  app.get(
    `/v1/${path}/:id/document`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `document${operation}`,
        summary: 'The batch as it was handed in',
        tags,
        params: idPath,
        querystring: ofRevision,
        response: { 200: answers('the batch', documents.Batch), ...problems(404, 409) },
      },
    },
    async (request, reply) => {
      const asked = { work, ...asRevision({ revision: revisionIn(request.query) }) };
      const text = await callerIn(request).client.text('batch', request.params.id, asked);
      return reply.type('application/json').send(text);
    },
  );

  app.get(
    `/v1/${path}/:id/${result}`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `result${operation}`,
        summary: `The ${outcome}`,
        description:
          'In the form that Accept, or ?form=, asks for. 409 while there is none (PS_PENDING), when it was cancelled, or when it failed; the code says which.',
        tags,
        headers: preferHeader.extend(tagHeader.shape),
        params: idPath,
        querystring: z
          .strictObject({
            form: z
              .enum(FORMS[work] as ['json'])
              .describe(FORMS[work].join(' or '))
              .optional(),
            partial: flagQuery('of a failed batch, what could be planned'),
            revision: revisionQuery,
          })
          .describe('the query'),
        response: {
          200: answers(
            `the ${outcome}`,
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
      const revision = revisionIn(request.query);
      const status = await waited(
        hub,
        kind,
        caller,
        request.params.id,
        waitOf(request.headers.prefer),
        request,
        revision,
      );
      const asked = { caller, work, status, form, partial: partial === 'true', revision };
      return sendResult(request, reply, context, asked);
    },
  );
}
