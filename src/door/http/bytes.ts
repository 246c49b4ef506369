/** The bytes of a request's body; none where it has no body, which its reader then refuses as it does an empty text. */
import type { FastifyRequest } from 'fastify';

export function bytesIn({ body }: Pick<FastifyRequest, 'body'>): Buffer {
  return Buffer.isBuffer(body) ? body : Buffer.alloc(0);
}

/** Whether a body is a table of a spreadsheet; JSON otherwise. */
export function isCsv({ headers }: Pick<FastifyRequest, 'headers'>): boolean {
  return /^text\/csv\b/i.test(headers['content-type'] ?? '');
}
