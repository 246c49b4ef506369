/** Bodies whose outside is checked by their own schema, as their bytes are read. */
import type { z } from 'zod';
import { parseJson } from '../../read/json.js';
import { PLAN_BYTES, PLAN_VALUES } from '../../read/limits.js';
import { InputProblems } from '../../read/problems.js';
import { walk } from '../../read/walk.js';

/** Throws PS_JSON, and PS_REQUEST listing every problem. */
export function bodyIn<S extends z.ZodType>(schema: S, bytes: Uint8Array): z.output<S> {
  const json = parseJson(bytes, { bytes: PLAN_BYTES, values: PLAN_VALUES });
  const problems = new InputProblems(json);
  const { whole } = walk(schema, json, problems);
  problems.throwIfAny('PS_REQUEST', 'the body is refused');
  if (whole === null) throw new TypeError('a refused body was let through');
  return whole;
}
