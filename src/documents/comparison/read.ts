/** Looks over a comparison document that was stored or sent. */
import { checkMade } from '../kinds.js';
import { comparisonSchema } from './schema.js';
import type { Comparison } from './types.js';

/** Throws PS_PLAN listing every problem. */
export function checkComparisonDocument(document: unknown): Comparison {
  return checkMade(document, 'pairstop/comparison@1', comparisonSchema);
}
