/** Looks over a comparison document that was stored or sent. */
import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { checkMade } from '../made.js';
import { comparisonSchema } from './schema.js';
import type { Comparison } from './types.js';

/** Throws PS_PLAN listing every problem. */
export function checkComparisonDocument(document: unknown): Comparison {
  return checkMade(document, 'pairstop/comparison@1', comparisonSchema);
}

/** UTF-8 text of `pairstop/comparison@1`. Throws PS_JSON, PS_PLAN. */
export function readComparison(text: string | Uint8Array): Comparison {
  return checkComparisonDocument(parseJson(text, { bytes: PLAN_BYTES, values: PLAN_VALUES }));
}
