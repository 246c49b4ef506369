/** What the door takes and gives, as zod schemas: checked by them, and shown by them in the OpenAPI document. */
import * as z from 'zod';
import { countField, textField } from '../../read/fields.js';
import { ID_LENGTH } from '../../read/limits.js';
import { list } from '../../read/walk.js';
import { readElsewhere } from '../http/validate.js';
import { SCOPES } from '../keys/keys.js';

/** Schemas that have a name in the OpenAPI document. */
export const resources = z.registry<{ readonly id: string }>();

/** Documents with schemas of their own, see `document.ts`; their readers check them. */
function document(id: string) {
  return z.unknown().register(resources, { id }).register(readElsewhere, { reader: id });
}

export const documents = {
  Batch: document('Batch'),
  Plan: document('Plan'),
  Comparison: document('Comparison'),
  Recut: document('Recut'),
  SawCheck: document('SawCheck'),
  Rack: document('Rack'),
} as const;

/** A body that its reader checks, made of documents. */
export function bodyOf<T extends z.ZodType>(id: string, schema: T): T {
  resources.add(schema, { id });
  readElsewhere.add(schema, { reader: id });
  return schema;
}

export function resource<T extends z.ZodType>(id: string, schema: T): T {
  resources.add(schema, { id });
  return schema;
}

const moment = z.number().describe('milliseconds since 1970, by the clock of Redis');
const seconds = z.number().describe('seconds');
const count = z.int().min(0);

const oneProblem = z.object({
  path: z.string().describe('as in frames[3].width; empty for all of it'),
  given: z.string(),
  allowed: z.string(),
  of: z
    .string()
    .optional()
    .describe('the id of the order line, moulding, stick, offer or piece it stands in'),
  file: z.string().optional(),
  line: z.int().optional().describe('of an order in CSV, from 1'),
  column: z.string().optional(),
});

export const problem = resource(
  'Problem',
  z
    .object({
      type: z.string().describe('where the code is explained'),
      title: z.string(),
      status: z.int().min(400).max(599),
      detail: z.string(),
      code: z
        .string()
        .regex(/^PS_[A-Z_]+$/)
        .describe('stable; programs may switch on it'),
      problems: z.array(oneProblem).describe('each thing that is wrong'),
    })
    .describe('what went wrong (RFC 9457)'),
);

export const state = z.enum(['waiting', 'running', 'done', 'failed', 'cancelled']);
const urgency = z.enum(['now', 'tonight']);

const links = z
  .object({
    self: z.string(),
    events: z.string(),
    result: z.string(),
  })
  .describe('paths below this server');

export const submission = resource(
  'Submission',
  z
    .object({
      id: z.string(),
      fingerprint: z.string().describe('stands for the content'),
      outcome: z
        .enum(['new', 'again', 'same', 'replaced'])
        .describe(
          '"same": it is known already; "again": it had failed, been cancelled or lost its result; "replaced": other content under the id, failed or cancelled, made room',
        ),
      state,
      revision: z.int().min(1).describe('how often the id has stood for other content, from 1'),
      links,
    })
    .describe('a batch that was taken'),
);

const proof = z.object({
  status: z.enum(['optimal', 'within', 'unproven']),
  measure: z.enum(['cost', 'length']),
  value: z.number(),
  bound: z.number().describe('proven: no plan goes below'),
});

const valueAndBound = z.object({ value: z.number(), bound: z.number() }).nullable();

export const batchStatus = resource(
  'BatchStatus',
  z
    .looseObject({
      id: z.string(),
      state,
      fingerprint: z.string(),
      urgency,
      run: z.int().min(1).describe('how often it has been begun anew, from 1'),
      submitted: moment,
      starts: moment.nullable().describe('when a batch that waits for its time may start'),
      started: moment.nullable(),
      finished: moment.nullable(),
      progress: z
        .looseObject({
          mouldings: z.object({ total: count, done: count, failed: count }),
          planned: count,
          cost: valueAndBound,
          length: valueAndBound,
          gap: z.number().nullable().describe('the largest (value - bound) / value of any moulding planned'),
          elapsed: seconds,
          finish: z.object({ likely: seconds.nullable(), latest: seconds.nullable() }),
        })
        .nullable(),
      mouldings: z.array(
        z.looseObject({
          moulding: z.string(),
          state: z.enum(['waiting', 'solving', 'done', 'failed']),
          proof: proof.nullable(),
          frames: count,
          ordered: count,
        }),
      ),
      outcome: z.enum(['complete', 'short']).nullable(),
      sawing: seconds.nullable().describe('what sawing its plan takes; null: not known, or cut with a night'),
      failure: z
        .object({
          code: z.string(),
          message: z.string(),
          problems: z.array(oneProblem),
        })
        .nullable(),
    })
    .describe('all that is known of a batch'),
);

export const batchPage = resource(
  'BatchPage',
  z
    .object({
      batches: z.array(
        z.looseObject({
          id: z.string(),
          work: z.enum(['plan', 'compare']),
          state,
          outcome: z.enum(['complete', 'short']).nullable(),
          urgency,
          revision: z.int().min(1).describe('how often the id has stood for other content, from 1'),
          submitted: moment,
          finished: moment.nullable(),
          cost: z.number().nullable().describe('of the plan, where it buys something or could'),
        }),
      ),
      next: z.string().nullable().describe('ask on with it, as after; null: these are the last'),
    })
    .describe('a page of batches, newest first'),
);

export const serviceStatus = resource(
  'ServiceStatus',
  z.looseObject({
    workers: z.array(z.looseObject({ id: z.string(), host: z.string() })),
    queues: z.looseObject({ now: z.looseObject({}), tonight: z.looseObject({}) }),
    errors: z.array(z.looseObject({ at: moment, code: z.string(), message: z.string() })),
    toSaw: z
      .object({ plans: count, seconds, unknown: count })
      .nullable()
      .describe(
        'plans of which nothing is known to be cut, what sawing them takes, and of how many that is not known',
      ),
  }),
);

export const checkReport = resource(
  'CheckReport',
  z
    .looseObject({
      ok: z.boolean().describe('the plan holds against its batch'),
      findings: z.array(
        z.object({ code: z.string(), path: z.string(), found: z.string(), holds: z.string() }),
      ),
      total: count,
      counts: z.record(z.string(), count),
      verified: z.looseObject({ rails: count, sticks: count, frames: count }),
    })
    .describe('what the checker found, from the geometry alone'),
);

export const railList = resource(
  'RailList',
  z
    .object({
      batch: z.string(),
      units: z.enum(['in', 'mm']),
      lengths: z.literal('mm').describe('every length here is in millimetres'),
      frames: z.array(
        z.object({
          frame: z.string(),
          moulding: z.string(),
          quantity: z.int().min(1),
          rails: z.array(
            z.object({
              sides: z.array(z.string()),
              length: z.number().describe('long point to long point, at the stop step'),
              angle: z.number().describe('the mitre, degrees off square'),
            }),
          ),
        }),
      ),
    })
    .describe('how long the rails of each frame are'),
);

export const whoami = resource(
  'Caller',
  z
    .object({
      key: z.string().nullable().describe('the id of the key; null: none is asked for'),
      name: z.string(),
      shop: z.string(),
      scopes: z.array(z.enum(SCOPES)),
      rate: z.int().describe('requests in ten seconds'),
      ends: moment.nullable(),
    })
    .describe('who asks, and what they may do'),
);

export const problemType = resource(
  'ProblemType',
  z.object({ code: z.string(), about: z.string(), status: z.int() }).describe('what a code means'),
);

export const liveness = resource('Liveness', z.object({ live: z.literal(true) }));

export const readiness = resource(
  'Readiness',
  z.object({ ready: z.boolean(), why: z.string().nullable().describe('why not') }),
);

/** A batch's own id, percent-encoded in the path. */
export const idPath = z
  .strictObject({ id: textField(ID_LENGTH * 4, "the batch's id, percent-encoded") })
  .describe('the path');

/** Of routes whose answers have an entity tag. */
export const tagHeader = z.object({
  'if-none-match': z
    .string()
    .optional()
    .describe('the ETag of the answer you have: 304 while it still holds'),
});

/** Which of the contents an id has stood for. */
export const revisionQuery = z
  .string()
  .regex(/^[1-9]\d{0,8}$/)
  .describe(
    'an earlier revision, where the id has stood for other content: a whole number from 1; without it, the newest',
  )
  .optional();

export const ofRevision = z.strictObject({ revision: revisionQuery }).describe('the query');

export const planForms = z.enum(['json', 'text']).optional();

/** `true` and `false` as a query writes them. */
export const flagQuery = (of: string) =>
  z.enum(['true', 'false']).describe(`${of}: true or false`).optional();

export const railIds = list(textField(ID_LENGTH + 32, 'the id of a rail'), 0, 100_000, 'rail ids');
export const flawTexts = list(textField(ID_LENGTH + 100, '"STICK:FROM-TO"'), 0, 1_000, 'flaws');
export const reuseTexts = list(textField(ID_LENGTH + 100, '"RAIL" or "RAIL=LENGTH"'), 0, 10_000, 'rails');
export const toldLines = list(
  textField(400, 'a rail, "through RAIL", "stop SETTING" or "stick STICK"'),
  0,
  1_000_000,
  'lines',
);

export const angle = z.number().min(0).max(90).describe('degrees off square: a number from 0 to 90');
export const page = countField(1, 200, 'how many at most');
