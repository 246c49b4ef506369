/** About the door itself: is it alive, who asks, what a code means, how the service is doing. */
import * as z from 'zod';
import { catalogue, type ErrorCode, PairstopError } from '../../errors.js';
import { callerIn } from '../caller.js';
import type { DoorApp, DoorContext } from '../context.js';
import { statusOf } from '../http/problem.js';
import { liveness, problemType, readiness, serviceStatus, whoami } from '../openapi/resources.js';
import { answers, problems } from '../openapi/responses.js';

function isCode(text: string): text is ErrorCode {
  return Object.hasOwn(catalogue, text);
}

export function addServiceRoutes(app: DoorApp, { alive, metrics }: DoorContext): void {
  const tags = ['service'];
  app.get(
    '/live',
    {
      logLevel: 'silent',
      schema: {
        operationId: 'live',
        summary: 'Is the door alive',
        tags,
        security: [],
        response: { 200: answers('it answers', liveness) },
      },
    },
    async () => ({ live: true as const }),
  );
  app.get(
    '/ready',
    {
      logLevel: 'silent',
      schema: {
        operationId: 'ready',
        summary: 'Can the door serve',
        tags,
        security: [],
        response: { 200: answers('it can', readiness), 503: answers('it cannot, and why', readiness) },
      },
    },
    async (_request, reply) => {
      const ready = await alive();
      return reply.code(ready ? 200 : 503).send({ ready, why: ready ? null : 'Redis does not answer' });
    },
  );
  app.get(
    '/metrics',
    {
      logLevel: 'silent',
      config: { scope: 'operate' },
      schema: {
        operationId: 'metrics',
        summary: 'For Prometheus',
        tags,
        response: { 200: answers('metrics of this door', null, 'text/plain'), ...problems() },
      },
    },
    async (_request, reply) =>
      reply.type(metrics.registry.contentType).send(await metrics.registry.metrics()),
  );
  app.get(
    '/v1/me',
    {
      config: { scope: 'read' },
      schema: {
        operationId: 'me',
        summary: 'Whose key this is, and what it may do',
        tags,
        response: { 200: answers('the key', whoami), ...problems() },
      },
    },
    async (request) => {
      const { key, name, shop, scopes, ends, allowance } = callerIn(request);
      return { key, name, shop, scopes: [...scopes], rate: allowance.rate, ends };
    },
  );
  app.get(
    '/v1/service',
    {
      config: { scope: 'operate' },
      schema: {
        operationId: 'service',
        summary: 'Workers, queues and the last errors',
        tags,
        response: { 200: answers('how the service is doing', serviceStatus), ...problems() },
      },
    },
    async (request) => (await callerIn(request).client.service()) as never,
  );
  app.get(
    '/v1/problems/:code',
    {
      schema: {
        operationId: 'problemType',
        summary: 'What a code means',
        tags,
        security: [],
        params: z
          .strictObject({ code: z.string().min(1).max(64).describe('a code, as PS_BATCH') })
          .describe('the path'),
        response: { 200: answers('the code', problemType), ...problems(404) },
      },
    },
    async (request) => {
      const { code } = request.params;
      if (!isCode(code)) throw new PairstopError('PS_ROUTE', `no code ${JSON.stringify(code)} is known`);
      return { code, about: catalogue[code].about, status: statusOf(code) };
    },
  );
}
