/** Handing in. */
import type { FastifyRequest } from 'fastify';
import * as z from 'zod';
import type { OrderGiven } from '../../../orders/order.js';
import type { Submission } from '../../../queue/client/client.js';
import { ID_LENGTH } from '../../../read/limits.js';
import { type Caller, callerIn } from '../../caller.js';
import type { DoorApp, DoorContext } from '../../context.js';
import { bytesIn, isCsv } from '../../http/bytes.js';
import { formOf, waitOf } from '../../http/negotiate.js';
import { documents, flagQuery, submission } from '../../openapi/resources.js';
import { answers, problems } from '../../openapi/responses.js';
import { FORMS, sendResult } from '../results.js';
import { hooksFor } from '../webhooks.js';
import { type Kind, linksOf, preferHeader, waited } from './kinds.js';

/** Bytes up to which a batch is read here; larger ones would keep others waiting and are read in a thread. */
const HERE_MOST = 131_072;

/** What the query adds to an order in CSV; null: the body is JSON. */
function csvGiven(request: FastifyRequest): OrderGiven | null {
  if (!isCsv(request)) return null;
  const { id = 'order', units } = request.query as { readonly id?: string; readonly units?: string };
  return { id, ...(units === undefined ? {} : { units }) };
}

export function addSubmit(app: DoorApp, context: DoorContext, kind: Kind): void {
  const { work, path, one, operation } = kind;
  const { hub, heavy, shops, courier } = context;
  const tags = [path];

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
        operationId: `submit${operation}`,
        summary: `Hand in ${one}`,
        description:
          'The same id and content is the same job, however often it is handed in: 202 the first time, 200 afterwards. The same id with other content is refused (409), unless the earlier one failed, was cancelled, or is to be replaced and is not being cut. With "Prefer: wait=10" the answer is the result, if it is there by then.',
        tags,
        consumes: ['application/json', 'text/csv'],
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
      const { webhook, replace } = request.query;
      await shops.requireRoom(caller.shop);
      const asked = () => hooksFor(context, caller, webhook);
      // One that is not known is refused before anything is handed in; else both go on at once.
      const named = webhook === undefined ? null : await asked();
      const handedIn = submit(caller, bytesIn(request), csvGiven(request), replace === 'true');
      const [hooks, taken] = await Promise.all([named ?? asked(), handedIn]);
      await courier.follow({ shop: caller.shop, work, id: taken.id }, hooks);
      const links = linksOf(kind, taken.id);
      reply.header('location', links.self);
      if (wait > 0) {
        reply.header('preference-applied', `wait=${wait / 1_000}`);
        const status = await waited(hub, kind, caller, taken.id, wait, request);
        if (status.state === 'done') {
          reply.header('content-location', links.result);
          return sendResult(request, reply, context, {
            caller,
            work,
            status,
            form,
            partial: false,
            revision: undefined,
          });
        }
      }
      return reply.code(taken.outcome === 'same' ? 200 : 202).send({ ...taken, links });
    },
  );
}
