/** Reads what was being cut: a plan, or an earlier recut. */
import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { schemaOf } from '../kinds.js';
import { checkMade } from '../made.js';
import { checkPlanDocument } from '../plan/read.js';
import type { Plan } from '../plan/types.js';
import { recutSchema } from './schema.js';
import type { Recut } from './types.js';

/** A value that already is an object. Throws PS_PLAN listing every problem. */
export function checkRecutDocument(document: unknown): Recut {
  return checkMade(document, 'pairstop/recut@1', recutSchema);
}

/** UTF-8 text of `pairstop/plan@1` or `pairstop/recut@1`. Throws PS_JSON or PS_PLAN. */
export function readPlanOrRecut(text: string | Uint8Array): Plan | Recut {
  const document = parseJson(text, { bytes: PLAN_BYTES, values: PLAN_VALUES });
  return schemaOf(document) === 'pairstop/recut@1'
    ? checkRecutDocument(document)
    : checkPlanDocument(document);
}
