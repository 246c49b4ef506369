/** Looks a comparison document over that was stored or sent. */

import { InputProblems } from '../../read/problems.js';
import { walk } from '../../read/walk.js';
import { comparisonSchema } from './schema.js';
import type { Comparison } from './types.js';

/** Throws PS_PLAN listing every problem. */
export function checkComparisonDocument(document: unknown): Comparison {
  const problems = new InputProblems(document);
  const { whole } = walk(comparisonSchema, document, problems);
  problems.throwIfAny('PS_PLAN', 'the comparison is refused');
  if (whole === null) throw new TypeError('a refused comparison was let through');
  return whole;
}
