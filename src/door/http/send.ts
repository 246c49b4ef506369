/** Answers with an entity tag (RFC 9110): whoever has it already is not sent it again. */
import { createHash } from 'node:crypto';
import type { Readable } from 'node:stream';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { type Form, MEDIA } from './negotiate.js';

const TAG_LENGTH = 22;
const TEXTUAL: ReadonlySet<Form> = new Set(['text', 'html', 'csv', 'svg']);

/** Weak: it stands for the same content however it is compressed. */
export function tagOf(...parts: readonly (string | number | null)[]): string {
  const digest = createHash('sha256').update(JSON.stringify(parts)).digest('base64url');
  return `W/"${digest.slice(0, TAG_LENGTH)}"`;
}

export function contentType(form: Form): string {
  return TEXTUAL.has(form) ? `${MEDIA[form]}; charset=utf-8` : MEDIA[form];
}

/** Whether whoever asks has this already. */
function isKnown(request: FastifyRequest, tag: string): boolean {
  const header = request.headers['if-none-match'];
  if (header === undefined) return false;
  const bare = (text: string): string => text.trim().replace(/^W\//, '');
  return header.trim() === '*' || header.split(',').some((one) => bare(one) === bare(tag));
}

/** Sends what `make` gives, or 304. */
export async function sendTagged(
  request: FastifyRequest,
  reply: FastifyReply,
  { tag, form, headers = {} }: { tag: string; form: Form; headers?: Readonly<Record<string, string>> },
  make: () => Promise<Buffer | string | Readable>,
): Promise<FastifyReply> {
  reply.headers({
    etag: tag,
    vary: 'accept, accept-encoding',
    'cache-control': 'private, no-cache',
    ...headers,
  });
  if (isKnown(request, tag)) return reply.code(304).send();
  const body = await make();
  return reply.type(contentType(form)).send(body);
}
