/**
 * A batch as it is handed to the service: JSON text
 *
 *     { "schema": "pairstop/job@1", "batch": { … the batch document … } }
 *
 * for a plan, and with `"work": "compare"` for a comparison. `batch` may also be the document's JSON text; or `packed`
 * takes its place: that text, gzipped, in base64.
 */
import { gunzipSync, gzipSync } from 'node:zlib';
import * as z from 'zod';
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../documents/batch/read.js';
import type { BatchDocument } from '../documents/batch/schema.js';
import { PairstopError } from '../errors.js';
import { fingerprint, fingerprintFor } from '../read/fingerprint.js';
import { parseJson } from '../read/json.js';
import { BATCH_BYTES, BATCH_VALUES } from '../read/limits.js';
import { show } from '../read/problems.js';
import type { WorkKind } from './solver/tasks.js';

export const JOB_SCHEMA = 'pairstop/job@1';

/** Smaller batches are left readable in Redis. */
const PACK_FROM = 16_384;
/** Base64 of a batch that gzip could not shrink. */
const ENVELOPE_BYTES = Math.ceil(BATCH_BYTES * 1.34) + 1_024;

const work = z.enum(['plan', 'compare']).default('plan');

const envelopeSchema = z.union([
  z.strictObject({
    schema: z.literal(JOB_SCHEMA),
    batch: z.unknown().refine((batch) => batch !== undefined),
    work,
  }),
  z.strictObject({ schema: z.literal(JOB_SCHEMA), packed: z.base64(), work }),
]);

/** What a job carries for this document; `written`: the text it was read from, which then need not be written anew. */
export function envelopeOf(
  document: BatchDocument,
  work: WorkKind = 'plan',
  written?: Uint8Array,
): Readonly<Record<string, unknown>> {
  const text = written ?? JSON.stringify(document);
  const asked = work === 'plan' ? {} : { work };
  return text.length < PACK_FROM
    ? { schema: JOB_SCHEMA, batch: document, ...asked }
    : { schema: JOB_SCHEMA, packed: gzipSync(text).toString('base64'), ...asked };
}

/** The key of a batch and of the work asked for. */
export function fingerprintOf(document: BatchDocument, work: WorkKind): string {
  return work === 'plan' ? fingerprint(document) : fingerprintFor(work, document);
}

function refuse(given: string): PairstopError {
  const allowed = `an object with schema "${JOB_SCHEMA}" and either batch or packed`;
  return new PairstopError(
    'PS_PAYLOAD',
    `the job's payload is not a batch: given ${given}; allowed: ${allowed}`,
    [{ path: '', given, allowed }],
  );
}

function unpack(packed: string): Buffer {
  try {
    return gunzipSync(Buffer.from(packed, 'base64'), { maxOutputLength: BATCH_BYTES });
  } catch {
    throw refuse(`a packed text that does not unpack to at most ${BATCH_BYTES} bytes`);
  }
}

/** Throws PS_JSON, PS_PAYLOAD or PS_BATCH. */
export function openEnvelope(text: Uint8Array): ReadBatchResult & { readonly work: WorkKind } {
  const json = parseJson(text, { bytes: ENVELOPE_BYTES, values: BATCH_VALUES });
  const { data } = envelopeSchema.safeParse(json);
  if (data === undefined) throw refuse(show(json));
  const { work } = data;
  if ('packed' in data) return { ...readBatchDocument(unpack(data.packed)), work };
  if (typeof data.batch === 'string') return { ...readBatchDocument(data.batch), work };
  // The checks that follow let only such a document through.
  return { batch: checkBatch(data.batch), document: data.batch as BatchDocument, work };
}
