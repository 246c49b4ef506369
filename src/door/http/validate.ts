/** Checks path, query and small bodies against the very schemas the OpenAPI document shows, every problem at once. */
import type { FastifySchema, FastifySchemaCompiler } from 'fastify';
import * as z from 'zod';
import { InputProblems } from '../../read/problems.js';
import { walk } from '../../read/walk.js';

const PARTS: Readonly<Record<string, string>> = { params: 'path', querystring: 'query', body: 'body' };

/** Documents that are read by their own readers: here they only stand in the OpenAPI document. */
export const readElsewhere = z.registry<{ readonly reader: string }>();

export const validatorCompiler: FastifySchemaCompiler<FastifySchema> = ({ schema, httpPart }) => {
  const part = PARTS[httpPart ?? ''];
  // Headers are many and not ours; those that matter are read where they matter.
  if (part === undefined || !(schema instanceof z.ZodType) || readElsewhere.has(schema)) {
    return (value: unknown) => ({ value });
  }
  // So that a path begins with where it stands: `query.limit`.
  const around = z.strictObject({ [part]: schema }).describe('the request');
  return (given: unknown) => {
    const value = { [part]: typeof given === 'object' ? { ...given } : given };
    const problems = new InputProblems(value);
    const { whole } = walk(around, value, problems);
    if (whole !== null) return { value: whole[part] };
    try {
      problems.throwIfAny('PS_REQUEST', `the ${part} of the request is refused`);
    } catch (error) {
      return { error: error as Error };
    }
    return { value: given };
  };
};
