/** The JSON Schemas (draft 2020-12) of the documents are made from the zod schemas that read them. */
import * as z from 'zod';

export type JsonSchema = Readonly<Record<string, unknown>>;

type Override = NonNullable<Parameters<typeof z.toJSONSchema>[1]>['override'];

export function jsonSchemaOf(schema: z.ZodType, override?: Override): JsonSchema {
  return z.toJSONSchema(schema, { io: 'input', ...(override && { override }) });
}
