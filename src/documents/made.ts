/** What reading any document has in common. */
import type { z } from 'zod';
import { type ErrorCode, PairstopError } from '../errors.js';
import { InputProblems, refusal, show } from '../read/problems.js';
import { walk } from '../read/walk.js';
import { KINDS, schemaOf } from './kinds.js';

const OURS: ReadonlySet<string> = new Set(KINDS.map((kind) => `pairstop/${kind}`));

/** Refuses another kind of our documents with one problem: listing its fields would bury the one thing that is wrong. */
export function refuseAnother(document: unknown, own: string, code: ErrorCode, what: string): void {
  const schema = schemaOf(document);
  const kind = schema?.split('@')[0] ?? '';
  if (schema === null || kind === own.split('@')[0] || !OURS.has(kind)) return;
  throw refusal(code, what, [{ path: 'schema', given: show(schema), allowed: show(own) }], 1);
}

/** A document that needs no check beyond its schema. Throws PS_PLAN listing every problem. */
export function checkMade<S extends z.ZodType>(document: unknown, own: string, schema: S): z.output<S> {
  const what = `the ${own.slice(own.indexOf('/') + 1, own.indexOf('@'))} is refused`;
  refuseAnother(document, own, 'PS_PLAN', what);
  const problems = new InputProblems(document);
  const { whole } = walk(schema, document, problems);
  problems.throwIfAny('PS_PLAN', what);
  if (whole === null) throw new PairstopError('PS_INTERNAL', 'a refused document was let through');
  return whole;
}
