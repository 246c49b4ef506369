/** Reads a plan document back. What it says of wood and money is for the checker to judge. */

import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { checkMade } from '../made.js';
import { planSchema } from './schema.js';
import type { Plan } from './types.js';

/** A value that already is an object. Throws PS_PLAN listing every problem. */
export function checkPlanDocument(document: unknown): Plan {
  return checkMade(document, 'pairstop/plan@1', planSchema);
}

/** UTF-8 text of `pairstop/plan@1`, at most 400 MiB. Throws PS_JSON or PS_PLAN. */
export function readPlan(text: string | Uint8Array): Plan {
  return checkPlanDocument(parseJson(text, { bytes: PLAN_BYTES, values: PLAN_VALUES }));
}
