/** All routes, and what is answered where there is none. */
import type { FastifyReply, FastifyRequest, HTTPMethods } from 'fastify';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import type { DoorApp, DoorContext } from '../context.js';
import { HttpAnswer } from '../http/problem.js';
import { addBatchRoutes } from './batches/batches.js';
import { addCalculationRoutes } from './calculations.js';
import { addDocsRoutes } from './docs.js';
import { addNightRoutes } from './night.js';
import { addPaperRoutes } from './papers.js';
import { addRackRoutes } from './rack.js';
import { addServiceRoutes } from './service.js';
import { addWebhookRoutes } from './webhooks.js';

interface KnownRoute {
  readonly pattern: RegExp;
  readonly methods: readonly HTTPMethods[];
}

function patternOf(url: string): RegExp {
  const steps = url
    .split('/')
    .map((step) => (step.startsWith(':') ? '[^/]+' : step.replaceAll('.', String.raw`\.`)));
  return new RegExp(`^${steps.join('/')}$`);
}

export function addRoutes(app: DoorApp, context: DoorContext): void {
  const known: KnownRoute[] = [];
  app.addHook('onRoute', ({ url, method }) => {
    known.push({ pattern: patternOf(url), methods: Array.isArray(method) ? method : [method] });
  });
  app.setNotFoundHandler((request: FastifyRequest, _reply: FastifyReply) => {
    const path = request.url.split('?')[0]!;
    const methods = [
      ...new Set(known.filter(({ pattern }) => pattern.test(path)).flatMap((route) => route.methods)),
    ];
    if (methods.length === 0)
      throw new PairstopError('PS_ROUTE', `nothing is served at ${show(path)}; see /v1/openapi.json`);
    const allow = methods.join(', ');
    throw new HttpAnswer(
      { code: 'PS_METHOD', message: `${request.method} is not taken at ${show(path)}; allowed: ${allow}` },
      { headers: { allow } },
    );
  });
  addDocsRoutes(app);
  addServiceRoutes(app, context);
  addBatchRoutes(app, context);
  addPaperRoutes(app, context);
  addCalculationRoutes(app, context);
  addRackRoutes(app, context);
  addNightRoutes(app, context);
  addWebhookRoutes(app, context);
}
