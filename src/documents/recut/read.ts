/** Reads what was being cut: a plan, or an earlier recut. */

import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { InputProblems } from '../../read/problems.js';
import { checkPlanDocument } from '../plan/read.js';
import type { Plan } from '../plan/types.js';
import { recutSchema } from './schema.js';
import type { Recut } from './types.js';

function isRecut(document: unknown): boolean {
  return (
    typeof document === 'object' &&
    document !== null &&
    Reflect.get(document, 'schema') === 'pairstop/recut@1'
  );
}

/** A value that already is an object. Throws PS_PLAN listing every problem. */
export function checkRecutDocument(document: unknown): Recut {
  const parsed = recutSchema.safeParse(document);
  if (parsed.success) return parsed.data;
  const problems = new InputProblems(document);
  for (const { path, message } of parsed.error.issues) {
    problems.add(
      path.map((step) => (typeof step === 'symbol' ? String(step) : step)),
      message,
    );
  }
  problems.throwIfAny('PS_PLAN', 'the recut is refused');
  throw new TypeError('a refused recut has no problem');
}

/** UTF-8 text of `pairstop/plan@1` or `pairstop/recut@1`. Throws PS_JSON or PS_PLAN. */
export function readWork(text: string | Uint8Array): Plan | Recut {
  const document = parseJson(text, { bytes: PLAN_BYTES, values: PLAN_VALUES });
  return isRecut(document) ? checkRecutDocument(document) : checkPlanDocument(document);
}
