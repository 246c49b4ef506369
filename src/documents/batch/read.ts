/** Reads a batch: safe JSON, then every field, then the rules between fields, then the planner's terms. */

import { parseJson } from '../../read/json.js';
import { BATCH_BYTES, BATCH_VALUES } from '../../read/limits.js';
import { InputProblems } from '../../read/problems.js';
import { walk } from '../../read/walk.js';
import type { Batch, Units } from '../../terms.js';
import { refuseAnother } from '../made.js';
import { buildBatch } from './build.js';
import { frameRules } from './frame-rules.js';
import { poolRules } from './pool-rules.js';
import { BATCH_SCHEMAS, type BatchDocument } from './schema.js';
import { stockRules } from './stock-rules.js';

/** The `units` of the batch if they are sound; otherwise millimetres, in which more bare numbers are in range. */
function unitsOf(document: unknown): Units {
  const inches = typeof document === 'object' && document !== null && Reflect.get(document, 'units') === 'in';
  return inches ? 'in' : 'mm';
}

/** A value that already is an object, as from a queue or a program. Throws PS_BATCH listing every problem. */
export function checkBatch(document: unknown): Batch {
  refuseAnother(document, 'pairstop/batch@1', 'PS_BATCH', 'the batch is refused');
  const problems = new InputProblems(document);
  const units = unitsOf(document);
  const { found, whole } = walk(BATCH_SCHEMAS[units], document, problems);
  if (found !== undefined && !problems.full) {
    frameRules(document, found, units, problems);
    stockRules(found, units, problems);
    poolRules(found, problems);
  }
  problems.throwIfAny('PS_BATCH', 'the batch is refused');
  if (whole === null) throw new TypeError('a refused batch reached the planner');
  return buildBatch(whole);
}

export interface ReadBatchResult {
  /** The document as written; it has passed every check. */
  readonly document: BatchDocument;
  readonly batch: Batch;
}

/** Both the document, to be stored or sent, and the batch it describes. Throws PS_JSON or PS_BATCH. */
export function readBatchDocument(text: string | Uint8Array): ReadBatchResult {
  const document = parseJson(text, { bytes: BATCH_BYTES, values: BATCH_VALUES });
  return { batch: checkBatch(document), document: document as BatchDocument };
}

/** UTF-8 text of `pairstop/batch@1`, at most 90 MiB. Throws PS_JSON or PS_BATCH. */
export function readBatch(text: string | Uint8Array): Batch {
  return readBatchDocument(text).batch;
}
