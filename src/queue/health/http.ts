/** What a process tells over HTTP of how it is doing: `/metrics` for Prometheus, `/live` and `/ready` for whoever starts it. */
import { once } from 'node:events';
import { createServer, type Server, type ServerResponse } from 'node:http';
import { PairstopError } from '../../errors.js';
import type { HttpSettings } from '../settings.js';

/** Null: ready. Otherwise why not, in a few words. */
export type NotReady = string | null;

export interface HealthSource {
  readonly ready: () => NotReady;
  /** In the text format of Prometheus, with its content type. */
  readonly metrics: () => Promise<{ readonly type: string; readonly text: string }>;
}

export interface HealthServer {
  readonly port: number;
  readonly close: () => Promise<void>;
}

function answer(response: ServerResponse, status: number, type: string, text: string): void {
  response.writeHead(status, { 'content-type': type, 'cache-control': 'no-store' });
  response.end(text);
}

function answerJson(response: ServerResponse, status: number, body: Readonly<Record<string, unknown>>): void {
  answer(response, status, 'application/json; charset=utf-8', `${JSON.stringify(body)}\n`);
}

async function respond(path: string, source: HealthSource, response: ServerResponse): Promise<void> {
  switch (path) {
    case '/live':
      // A process that stands still does not answer at all.
      return answerJson(response, 200, { live: true });
    case '/ready': {
      const why = source.ready();
      return answerJson(response, why === null ? 200 : 503, { ready: why === null, why });
    }
    case '/metrics': {
      const { type, text } = await source.metrics();
      return answer(response, 200, type, text);
    }
    default:
      return answerJson(response, 404, { paths: ['/live', '/ready', '/metrics'] });
  }
}

/** Throws PS_SETTING where the address cannot be listened to. */
export async function serveHealth({ host, port }: HttpSettings, source: HealthSource): Promise<HealthServer> {
  const server: Server = createServer((request, response) => {
    const path = (request.url ?? '/').split('?')[0] ?? '/';
    if (request.method !== 'GET' && request.method !== 'HEAD')
      return answerJson(response, 405, { allowed: 'GET' });
    respond(path, source, response).catch((error: unknown) => {
      const reason = error instanceof Error ? error.message : 'a fault';
      if (!response.headersSent) answerJson(response, 500, { reason });
      else response.end();
    });
  });
  server.requestTimeout = 5_000;
  server.listen(port, host);
  try {
    await once(server, 'listening');
  } catch (error) {
    const reason = error instanceof Error ? error.message : 'a fault';
    throw new PairstopError('PS_SETTING', `PAIRSTOP_HTTP: ${host}:${port} cannot be listened to (${reason})`);
  }
  // Whoever scrapes must not keep a worker from ending.
  server.unref();
  const address = server.address();
  return {
    port: address !== null && typeof address === 'object' ? address.port : port,
    close: async () => {
      server.close();
      server.closeAllConnections();
      if (server.listening) await once(server, 'close');
    },
  };
}
