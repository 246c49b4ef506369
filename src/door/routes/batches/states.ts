/** Which there are, how one is doing, and cancelling it. */
import * as z from 'zod';
import { PairstopError } from '../../../errors.js';
import { ID_LENGTH } from '../../../read/limits.js';
import { callerIn } from '../../caller.js';
import type { DoorApp, DoorContext } from '../../context.js';
import { waitOf } from '../../http/negotiate.js';
import { batchPage, batchStatus, flagQuery, idPath, ofRevision, state } from '../../openapi/resources.js';
import { answers, problems } from '../../openapi/responses.js';
import { revisionIn } from '../../revision.js';
import { type Kind, preferHeader, waited } from './kinds.js';

/** A job's id, percent-encoded, and the moment before it. */
const PLACE_LENGTH = ID_LENGTH * 12 + 20;

export function addStates(app: DoorApp, context: DoorContext, kind: Kind): void {
  const { work, path, one, operation } = kind;
  const { hub } = context;
  const tags = [path];

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

  app.get(
    `/v1/${path}/:id`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `status${operation}`,
        summary: `How ${one} is doing`,
        tags,
        headers: preferHeader,
        params: idPath,
        querystring: ofRevision,
        response: { 200: answers('its state, times, progress and proof', batchStatus), ...problems(404) },
      },
    },
    async (request) =>
      waited(
        hub,
        kind,
        callerIn(request),
        request.params.id,
        waitOf(request.headers.prefer),
        request,
        revisionIn(request.query),
      ),
  );

  app.delete(
    `/v1/${path}/:id`,
    {
      config: { scope: 'submit' },
      schema: {
        operationId: `cancel${operation}`,
        summary: `Cancel ${one}`,
        description:
          'Ends what waits or runs. What is cancelled already stays so (200); what is done or failed is refused (409). A batch of a night for which the pool has closed leaves it, and the others are planned without it.',
        tags,
        params: idPath,
        querystring: z
          .strictObject({
            replan: flagQuery(
              'also out of a night that is planned and not begun: the others are planned again',
            ),
          })
          .describe('the query'),
        response: { 200: answers('it is cancelled', batchStatus), ...problems(404, 409) },
      },
    },
    async (request) => {
      const { client } = callerIn(request);
      const { id } = request.params;
      const state = await client.cancel(id, { work, replan: request.query.replan === 'true' });
      if (state !== 'cancelled') {
        throw new PairstopError('PS_ENDED', `${JSON.stringify(id)} is ${state} and cannot be cancelled`);
      }
      return client.status(id, { work });
    },
  );
}
