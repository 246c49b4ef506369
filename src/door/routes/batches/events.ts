/** Progress as it comes. */
import type { FastifyReply } from 'fastify';
import * as z from 'zod';
import { callerIn } from '../../caller.js';
import type { DoorApp, DoorContext } from '../../context.js';
import { idPath } from '../../openapi/resources.js';
import { answers, empty, problems } from '../../openapi/responses.js';
import { changeOf, type Watched } from '../../progress/hub.js';
import { EventStream } from '../../progress/stream.js';
import { type Kind, watchedOf } from './kinds.js';

export function addEvents(app: DoorApp, context: DoorContext, kind: Kind): void {
  const { work, path, operation } = kind;
  const { hub, limits, settings } = context;
  const tags = [path];

  app.get(
    `/v1/${path}/:id/events`,
    {
      config: { scope: 'read' },
      schema: {
        operationId: `events${operation}`,
        summary: 'Its progress, as it comes',
        description:
          'Server-Sent Events. Each event is named by the state (waiting, running, done, failed, cancelled), has an id and holds the status as JSON. The stream ends after the last one. With Last-Event-ID only what is new comes; after the last one, 204.',
        tags,
        headers: z.object({
          'last-event-id': z
            .string()
            .optional()
            .describe('the id of the last event you had: what follows it is sent'),
        }),
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
