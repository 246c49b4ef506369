/** The OpenAPI document, and a page of it to read. */
import type { DoorApp } from '../context.js';
import { docsPage, type OpenApiDocument } from '../openapi/docs-page.js';

export function addDocsRoutes(app: DoorApp): void {
  let text: string | null = null;
  let page: string | null = null;
  app.get('/v1/openapi.json', { schema: { hide: true } }, async (_request, reply) => {
    text ??= JSON.stringify(app.swagger());
    return reply.type('application/json').send(text);
  });
  // A person who types the address alone.
  app.get('/', { schema: { hide: true } }, async (_request, reply) => reply.redirect('/docs', 303));
  app.get('/docs', { schema: { hide: true } }, async (_request, reply) => {
    page ??= docsPage(app.swagger() as unknown as OpenApiDocument);
    return reply.type('text/html; charset=utf-8').send(page);
  });
}
