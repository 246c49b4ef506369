/** The shop's rack: what lies there, pieces entered and taken off, and the proof that it all adds up. */

import { z } from 'zod';
import { rackCsv } from '../../documents/rack/csv.js';
import { checkRackDocument, rackDocument } from '../../documents/rack/schema.js';
import { textField } from '../../read/fields.js';
import { parseJson } from '../../read/json.js';
import { BATCH_VALUES, ID_LENGTH } from '../../read/limits.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { bytesIn } from '../http/bytes.js';
import { formOf } from '../http/negotiate.js';
import { contentType } from '../http/send.js';
import { documents, flagQuery, resource } from '../openapi/resources.js';
import { answers, empty, problems } from '../openapi/responses.js';

const audit = resource(
  'RackAudit',
  z.looseObject({}).describe('the rack, held against its journal; lengths are micrometres'),
);
const entered = resource(
  'RackEntered',
  z.object({ entered: z.int().min(1) }).describe('how many pieces were entered'),
);
const word = (of: string) => textField(ID_LENGTH, of).optional();

export function addRackRoutes(app: DoorApp, { settings }: DoorContext): void {
  const tags = ['rack'];
  app.get(
    '/v1/rack',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'rack',
        summary: 'What lies on the rack',
        tags,
        querystring: z
          .strictObject({
            moulding: word('of this moulding alone'),
            place: word('at this place alone'),
            batch: word('reserved or begun for this batch alone'),
            all: flagQuery('also what is used up or gone'),
          })
          .describe('the query'),
        response: {
          200: answers('the pieces, by moulding and id', documents.Rack, 'text/csv'),
          ...problems(406),
        },
      },
    },
    async (request, reply) => {
      const form = formOf(request, ['json', 'csv'], undefined);
      const { moulding, place, batch, all } = request.query;
      const pieces = await callerIn(request).client.rack.list({
        ...(moulding === undefined ? {} : { moulding }),
        ...(place === undefined ? {} : { place }),
        ...(batch === undefined ? {} : { batch }),
        all: all === 'true',
      });
      const text = form === 'csv' ? rackCsv(pieces) : JSON.stringify(rackDocument(pieces));
      return reply
        .header('vary', 'accept, accept-encoding')
        .header('cache-control', 'private, no-cache')
        .type(contentType(form))
        .send(text);
    },
  );
  app.post(
    '/v1/rack',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'enterPieces',
        summary: 'Enter pieces: all of them, or none where one cannot be',
        tags,
        body: documents.Rack,
        response: { 201: answers('they are entered', entered), ...problems(413, 415, 422) },
      },
    },
    async (request, reply) => {
      const { client, name } = callerIn(request);
      const json = parseJson(bytesIn(request), { bytes: settings.bodyMost, values: BATCH_VALUES });
      const pieces = checkRackDocument(json);
      await client.rack.add(pieces, { who: name, imported: true });
      return reply.code(201).send({ entered: pieces.length });
    },
  );
  app.delete(
    '/v1/rack/pieces/:id',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'removePiece',
        summary: 'Take a piece off the rack for good',
        tags,
        params: z
          .strictObject({ id: textField(ID_LENGTH * 4, "the piece's id, percent-encoded") })
          .describe('the path'),
        response: { 204: empty('it is gone'), ...problems(422) },
      },
    },
    async (request, reply) => {
      const { client, name } = callerIn(request);
      await client.rack.remove([request.params.id], { who: name });
      return reply.code(204).send();
    },
  );
  app.get(
    '/v1/rack/audit',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'auditRack',
        summary: 'Does the rack balance',
        tags,
        response: { 200: answers('the audit', audit), ...problems() },
      },
    },
    async (request) => (await callerIn(request).client.rack.audit()) as never,
  );
}
