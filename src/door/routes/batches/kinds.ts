/** What all routes of batches and comparisons share. */
import type { FastifyRequest } from 'fastify';
import * as z from 'zod';
import type { WorkKind } from '../../../processes/solver/tasks.js';
import type { BatchStatus } from '../../../queue/client/status.js';
import type { Caller } from '../../caller.js';
import { type Hub, isOver, type Watched } from '../../progress/hub.js';
import { asRevision } from '../../revision.js';

export interface Kind {
  readonly work: WorkKind;
  /** The first part of the path. */
  readonly path: 'batches' | 'comparisons';
  /** What comes out, and its name in the path. */
  readonly result: 'plan' | 'result';
  readonly one: string;
  /** Ends the names of its operations. */
  readonly operation: 'Batch' | 'Comparison';
}

export const KINDS: readonly Kind[] = [
  { work: 'plan', path: 'batches', result: 'plan', one: 'a batch', operation: 'Batch' },
  { work: 'compare', path: 'comparisons', result: 'result', one: 'a comparison', operation: 'Comparison' },
];

function pathOf({ path }: Pick<Kind, 'path'>, id: string): string {
  return `/v1/${path}/${encodeURIComponent(id)}`;
}

export function linksOf(kind: Kind, id: string) {
  const self = pathOf(kind, id);
  return { self, events: `${self}/events`, result: `${self}/${kind.result}` };
}

export function watchedOf({ shop, client }: Caller, { work }: Kind, id: string): Watched {
  return { shop, client, work, id };
}

export const preferHeader = z.object({
  prefer: z
    .string()
    .optional()
    .describe('wait=10: answer with the result if it is there within so many seconds (RFC 7240), at most 60'),
});

/** The status once it is over, or after the wait. */
export async function waited(
  hub: Hub,
  kind: Kind,
  caller: Caller,
  id: string,
  wait: number,
  request: FastifyRequest,
  revision?: number,
): Promise<BatchStatus> {
  const { client } = caller;
  const asked = { work: kind.work, ...asRevision({ revision }) };
  const status = await client.status(id, asked);
  if (wait === 0 || isOver(status)) return status;
  const gone = new AbortController();
  const leave = (): void => gone.abort();
  request.raw.once('close', leave);
  try {
    return (
      (await hub.wait(watchedOf(caller, kind, id), wait, gone.signal)) ?? (await client.status(id, asked))
    );
  } finally {
    request.raw.off('close', leave);
  }
}
