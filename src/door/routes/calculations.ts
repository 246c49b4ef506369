/** What needs no queue: recuts, checks, saw checks, rails. */

import type { FastifyReply } from 'fastify';
import type { z } from 'zod';
import type { DoorApp, DoorContext } from '../context.js';
import { bytesIn } from '../http/bytes.js';
import { type Form, formOf } from '../http/negotiate.js';
import { contentType } from '../http/send.js';
import { checkBody, railsBody, recutBody, sawBody } from '../openapi/bodies.js';
import { checkReport, documents, railList } from '../openapi/resources.js';
import { answers, problems } from '../openapi/responses.js';

const FORMS = ['json', 'text'] as const;
/** A batch and its plan. */
const BODY_MOST = 400 * 2 ** 20;

interface Calculation {
  readonly path: string;
  readonly task: 'recut' | 'check' | 'saw' | 'rails';
  readonly operationId: string;
  readonly summary: string;
  readonly description: string;
  readonly body: z.ZodType;
  readonly answer: z.ZodType;
}

const CALCULATIONS: readonly Calculation[] = [
  {
    path: '/v1/recuts',
    task: 'recut',
    operationId: 'recut',
    summary: 'Go on after a bad cut',
    description: 'Replaces lost rails from what is left of a plan, or of an earlier recut of it.',
    body: recutBody,
    answer: documents.Recut,
  },
  {
    path: '/v1/checks',
    task: 'check',
    operationId: 'check',
    summary: 'Verify a plan, a recut or a comparison against its batch',
    description:
      'From the geometry alone, without the planner; of a comparison, what its purchases make is shown by plans. What does not hold is 200 too, with "ok": false.',
    body: checkBody,
    answer: checkReport,
  },
  {
    path: '/v1/saw-checks',
    task: 'saw',
    operationId: 'checkSaw',
    summary: 'Is the saw true enough',
    description:
      'How true the saw must be for the frames of a batch, and what measured angles do to their last joints.',
    body: sawBody,
    answer: documents.SawCheck,
  },
  {
    path: '/v1/rails',
    task: 'rails',
    operationId: 'rails',
    summary: 'How long the rails of each frame are',
    description: 'Long point to long point, at the stop step of the saw.',
    body: railsBody,
    answer: railList,
  },
];

export function addCalculationRoutes(app: DoorApp, { heavy }: DoorContext): void {
  for (const { path, task, operationId, summary, description, body, answer } of CALCULATIONS) {
    const texts = task === 'rails' ? [] : (['text/plain'] as const);
    app.post(
      path,
      {
        config: { scope: 'read', bodyMost: BODY_MOST },
        schema: {
          operationId,
          summary,
          description,
          tags: ['calculations'],
          body,
          response: { 200: answers(summary, answer, ...texts), ...problems(406, 413, 415, 422) },
        },
      },
      async (request, reply) => {
        const form: Form = formOf(request, task === 'rails' ? ['json'] : FORMS, undefined);
        return send(reply, form, await heavy.run({ do: task, body: bytesIn(request), form }));
      },
    );
  }
}

function send(reply: FastifyReply, form: Form, bytes: Buffer): FastifyReply {
  return reply
    .header('vary', 'accept, accept-encoding')
    .header('cache-control', 'no-store')
    .type(contentType(form))
    .send(bytes);
}
