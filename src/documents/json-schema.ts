/** The JSON Schemas (draft 2020-12) of the documents, made from the very schemas they are read with. */
import { z } from 'zod';
import { batchSchema } from './batch/schema.js';
import { comparisonSchema } from './comparison/schema.js';
import { planSchema } from './plan/schema.js';

export type JsonSchema = Readonly<Record<string, unknown>>;

/** Batches in inches and in millimetres are one document to other software: the default that differs is left to its description. */
export function batchJsonSchema(): JsonSchema {
  return z.toJSONSchema(batchSchema('in'), {
    io: 'input',
    override: ({ jsonSchema, path }) => {
      if (path.at(-1) === 'stopStep') delete jsonSchema.default;
    },
  });
}

export function planJsonSchema(): JsonSchema {
  return z.toJSONSchema(planSchema, { io: 'input' });
}

export function comparisonJsonSchema(): JsonSchema {
  return z.toJSONSchema(comparisonSchema, { io: 'input' });
}
