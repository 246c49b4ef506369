/** The bytes of a request's body; none where it has no body, which its reader then refuses as it does an empty text. */
import type { FastifyRequest } from 'fastify';

export function bytesIn({ body }: Pick<FastifyRequest, 'body'>): Buffer {
  return Buffer.isBuffer(body) ? body : Buffer.alloc(0);
}
