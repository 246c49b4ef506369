/** What is done with the rack's wood in the shop: cutting, taking in, counting. */
import { mmFromUm } from '../../lengths/units.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { shownLines, umOf } from '../heavy/rack.js';
import { bytesIn } from '../http/bytes.js';
import { bodyIn } from '../http/read-body.js';
import {
  countBody,
  cutBody,
  deliveryBody,
  rackCount,
  rackCutting,
  rackDelivery,
  rackExpected,
} from '../openapi/rack.js';
import { idPath } from '../openapi/resources.js';
import { answers, problems } from '../openapi/responses.js';

export function addRackWork(app: DoorApp, { heavy, recuts }: DoorContext): void {
  const tags = ['rack'];
  app.get(
    '/v1/rack/expected',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'expectedSticks',
        summary: 'What plans have bought and has not come yet',
        tags,
        response: { 200: answers('by batch and offer', rackExpected), ...problems() },
      },
    },
    async (request) => ({
      lengths: 'mm' as const,
      expected: shownLines(await callerIn(request).client.rack.expected()),
    }),
  );
  app.post(
    '/v1/batches/:id/cuts',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'tellCuts',
        summary: 'Tell the rack what was cut of a batch',
        description:
          'What was cut is used up, offcuts to keep enter the rack. An empty object tells that everything is cut. Told again, it changes nothing more.',
        tags,
        params: idPath,
        body: cutBody,
        response: { 200: answers('what it came to', rackCutting), ...problems(404, 409, 413, 415, 422) },
      },
    },
    async (request, reply) => {
      const { shop, name: who } = callerIn(request);
      const { id } = request.params;
      const body = bytesIn(request);
      const { recut: named } = bodyIn(cutBody, body);
      const recut = named === undefined ? null : (await recuts.find(shop, id, named)).toString();
      const bytes = await heavy.run({ do: 'cut', shop, id, body, who, recut });
      return reply.type('application/json').send(bytes);
    },
  );
  app.post(
    '/v1/batches/:id/deliveries',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'receiveSticks',
        summary: 'Take in sticks that were bought for a batch',
        description: 'An empty object takes in all that is expected.',
        tags,
        params: idPath,
        body: deliveryBody,
        response: { 200: answers('what was taken in', rackDelivery), ...problems(413, 415, 422) },
      },
    },
    async (request, reply) => {
      const { shop, name: who } = callerIn(request);
      const { id } = request.params;
      const bytes = await heavy.run({ do: 'delivery', shop, id, body: bytesIn(request), who, recut: null });
      return reply.type('application/json').send(bytes);
    },
  );
  app.post(
    '/v1/rack/counts',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'countRack',
        summary: 'Stocktaking: what is really there',
        description: 'Tells the differences; with settle they are written to the journal.',
        tags,
        body: countBody,
        response: { 200: answers('the differences', rackCount), ...problems(413, 415, 422) },
      },
    },
    async (request) => {
      const { client, name: who } = callerIn(request);
      const { pieces, moulding, place, settle = false, why } = bodyIn(countBody, bytesIn(request));
      const counted = pieces.map(({ id, length, ...more }) => ({
        id,
        ...Object.fromEntries(Object.entries(more).filter(([, value]) => value !== undefined)),
        ...(length !== undefined && { length: umOf(length) }),
      }));
      const { missing, found, measured, ...rest } = await client.rack.count(counted, {
        who,
        settle,
        ...(why !== undefined && { why }),
        ...(moulding !== undefined && { moulding }),
        ...(place !== undefined && { place }),
      });
      const inMm = <T extends { readonly length: number }>(all: readonly T[]) =>
        all.map((one) => ({ ...one, length: mmFromUm(one.length) }));
      return {
        ...rest,
        lengths: 'mm',
        settled: settle,
        missing: inMm(missing),
        found: inMm(found),
        measured: measured.map((one) => ({ ...one, was: mmFromUm(one.was), is: mmFromUm(one.is) })),
      } as never;
    },
  );
}
