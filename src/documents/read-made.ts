/** Reads any document made here that can be verified against its batch: what it is, it says itself. */
import { parseJson } from '../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../read/limits.js';
import { checkComparisonDocument } from './comparison/read.js';
import type { Comparison } from './comparison/types.js';
import { schemaOf } from './kinds.js';
import { checkPlanDocument } from './plan/read.js';
import type { Plan } from './plan/types.js';
import { checkRecutDocument } from './recut/read.js';
import type { Recut } from './recut/types.js';

export type MadeDocument = Plan | Recut | Comparison;

/** A value that already is an object. Throws PS_PLAN listing every problem. */
export function checkMadeDocument(document: unknown): MadeDocument {
  const schema = schemaOf(document);
  if (schema === 'pairstop/recut@1') return checkRecutDocument(document);
  if (schema === 'pairstop/comparison@1') return checkComparisonDocument(document);
  return checkPlanDocument(document);
}

/** UTF-8 text. Throws PS_JSON or PS_PLAN. */
export function readMadeDocument(text: string | Uint8Array): MadeDocument {
  return checkMadeDocument(parseJson(text, { bytes: PLAN_BYTES, values: PLAN_VALUES }));
}
