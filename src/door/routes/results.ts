/** What came out of a batch, in the form that is wanted. */
import type { FastifyReply, FastifyRequest } from 'fastify';
import { PairstopError } from '../../errors.js';
import type { WorkKind } from '../../processes/solver/tasks.js';
import type { BatchStatus } from '../../queue/client/status.js';
import type { Caller } from '../caller.js';
import type { DoorContext } from '../context.js';
import type { Form } from '../http/negotiate.js';
import { HttpAnswer } from '../http/problem.js';
import { sendTagged, tagOf } from '../http/send.js';
import { asRevision } from '../revision.js';

/** The first is given to whoever does not say. */
export const FORMS: Readonly<Record<WorkKind, readonly Form[]>> = {
  plan: ['json', 'text', 'html', 'csv'],
  compare: ['json', 'text', 'svg'],
};

const CONFLICT = 409;
/** The sheet has a stricter policy of its own, by the digests of its script and style; both hold. */
export const SHEET_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy':
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
};

export interface ResultAsked {
  readonly caller: Caller;
  readonly work: WorkKind;
  readonly status: BatchStatus;
  readonly form: Form;
  readonly partial: boolean;
  /** As asked for; undefined: the newest. */
  readonly revision: number | undefined;
}

/** Throws for a batch that has no result, with the reason. */
export function requireResult({ id, state, failure }: BatchStatus, partial: boolean): void {
  const name = JSON.stringify(id);
  switch (state) {
    case 'done':
      return;
    case 'waiting':
    case 'running':
      throw new PairstopError('PS_PENDING', `batch ${name} has no result yet: it is ${state}`);
    case 'cancelled':
      throw new PairstopError('PS_CANCELLED', `batch ${name} has been cancelled`);
    case 'failed':
      if (partial) return;
      // Its code says why it failed; that there is no result is no fault of this call.
      throw new HttpAnswer(failure ?? { code: 'PS_FAILED', message: `batch ${name} has failed` }, {
        status: CONFLICT,
      });
    default:
      state satisfies never;
  }
}

export async function sendResult(
  request: FastifyRequest,
  reply: FastifyReply,
  { heavy }: DoorContext,
  { caller, work, status, form, partial, revision }: ResultAsked,
): Promise<FastifyReply> {
  requireResult(status, partial);
  const { id, fingerprint, run, finished, state } = status;
  const { shop } = caller;
  // Once published a result never changes, so its tag is known before it is fetched.
  const tag = tagOf(shop, work, fingerprint, run, finished, state, form, revision ?? 0);
  const headers = form === 'html' ? SHEET_HEADERS : {};
  return sendTagged(request, reply, { tag, form, headers }, async () =>
    form === 'json'
      ? caller.client.text('result', id, { work, partial, ...asRevision({ revision }) })
      : heavy.run({ do: 'result', shop, work, id, revision, partial, form, made: finished ?? 0 }),
  );
}
