/** The shop's rack: what lies there, pieces entered and taken off, and the proof that it all adds up. */

import * as z from 'zod';
import { rackCsv, readRackCsv } from '../../documents/rack/csv.js';
import { checkRackDocument, rackDocument } from '../../documents/rack/schema.js';
import { pieceIdOf } from '../../rack/names.js';
import { textField } from '../../read/fields.js';
import { parseJson } from '../../read/json.js';
import { BATCH_VALUES, ID_LENGTH } from '../../read/limits.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { flawsOf, umOf } from '../heavy/rack.js';
import { bytesIn, isCsv } from '../http/bytes.js';
import { formOf } from '../http/negotiate.js';
import { refuseRequest } from '../http/problem.js';
import { bodyIn } from '../http/read-body.js';
import { contentType } from '../http/send.js';
import { pieceChange, pieceHistory, rackAudit, rackEntered } from '../openapi/rack.js';
import { documents, flagQuery } from '../openapi/resources.js';
import { answers, empty, problems } from '../openapi/responses.js';
import { addRackWork } from './rack-work.js';

const word = (of: string) => textField(ID_LENGTH, of).optional();

const piecePath = z
  .strictObject({ id: textField(ID_LENGTH * 4, "the piece's id, percent-encoded") })
  .describe('the path');

export function addRackRoutes(app: DoorApp, context: DoorContext): void {
  addPieces(app, context);
  addPiece(app);
  addRackWork(app, context);
}

function addPieces(app: DoorApp, { settings }: DoorContext): void {
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
      config: { scope: 'submit', csv: true },
      schema: {
        operationId: 'enterPieces',
        summary: 'Enter pieces: all of them, or none where one cannot be',
        tags,
        consumes: ['application/json', 'text/csv'],
        querystring: z
          .strictObject({
            units: z
              .enum(['in', 'mm'])
              .describe('of CSV: "in" or "mm", where the table does not say; by default "in"')
              .optional(),
          })
          .describe('the query'),
        body: documents.Rack,
        response: { 201: answers('they are entered', rackEntered), ...problems(413, 415, 422) },
      },
    },
    async (request, reply) => {
      const { client, name } = callerIn(request);
      const bytes = bytesIn(request);
      const pieces = isCsv(request)
        ? readRackCsv('body', bytes, request.query.units ?? 'in').rows
        : checkRackDocument(parseJson(bytes, { bytes: settings.bodyMost, values: BATCH_VALUES }));
      await client.rack.add(pieces, { who: name, imported: true });
      return reply.code(201).send({ entered: pieces.length });
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
        response: { 200: answers('the audit', rackAudit), ...problems() },
      },
    },
    async (request) => (await callerIn(request).client.rack.audit()) as never,
  );
}

function addPiece(app: DoorApp): void {
  const tags = ['rack'];
  app.delete(
    '/v1/rack/pieces/:id',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'removePiece',
        summary: 'Take a piece off the rack for good',
        tags,
        params: piecePath,
        response: { 204: empty('it is gone'), ...problems(422) },
      },
    },
    async (request, reply) => {
      const { client, name } = callerIn(request);
      await client.rack.remove([request.params.id], { who: name });
      return reply.code(204).send();
    },
  );
  app.patch(
    '/v1/rack/pieces/:id',
    {
      config: { scope: 'submit' },
      schema: {
        operationId: 'changePiece',
        summary: 'Correct what is known of a piece, or say where it lies',
        tags,
        params: piecePath,
        body: pieceChange,
        response: { 200: answers('the piece', documents.Rack), ...problems(413, 415, 422) },
      },
    },
    async (request) => {
      const { client, name } = callerIn(request);
      const { id } = request.params;
      const { place, length, flaws, ends, why } = bodyIn(pieceChange, bytesIn(request));
      if (place === undefined && length === undefined && flaws === undefined && ends === undefined) {
        throw refuseRequest('body', 'nothing to change', 'one of place, length, flaws, ends');
      }
      const how = { who: name, ...(why !== undefined && { why }) };
      const changes = {
        ...(length !== undefined && { length: umOf(length) }),
        ...(flaws !== undefined && { flaws: flawsOf(flaws) }),
        ...(ends !== undefined && { ends }),
        ...(place !== undefined && { place }),
      };
      // A piece that is begun can be moved, and not be described anew.
      if (place !== undefined && Object.keys(changes).length === 1) await client.rack.move([id], place, how);
      else return rackDocument([await client.rack.edit(id, changes, how)]) as never;
      const found = (await client.rack.list({ all: true })).filter((item) => item.id === pieceIdOf(id));
      return rackDocument(found) as never;
    },
  );
  app.get(
    '/v1/rack/pieces/:id/history',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'pieceHistory',
        summary: 'What has happened to a piece',
        tags,
        params: piecePath,
        response: {
          200: answers('its entries in the journal, the first first', pieceHistory),
          ...problems(422),
        },
      },
    },
    async (request) => {
      const id = pieceIdOf(request.params.id);
      return { id, entries: await callerIn(request).client.rack.history(id) } as never;
    },
  );
}
