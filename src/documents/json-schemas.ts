/** Every document's JSON Schema, by its kind. */
import { answerJsonSchema } from './answer/schema.js';
import { batchJsonSchema } from './batch/schema.js';
import { comparisonJsonSchema } from './comparison/schema.js';
import { hoursJsonSchema } from './hours/schema.js';
import type { JsonSchema } from './json-schema.js';
import type { DocumentKind } from './kinds.js';
import { planJsonSchema } from './plan/schema.js';
import { quoteJsonSchema } from './quote/schema.js';
import { rackJsonSchema } from './rack/schema.js';
import { frameRailsJsonSchema } from './rails/schema.js';
import { recutJsonSchema } from './recut/schema.js';
import { sawJsonSchema } from './saw/schema.js';

export const JSON_SCHEMAS: Readonly<Record<DocumentKind, () => JsonSchema>> = {
  batch: batchJsonSchema,
  plan: planJsonSchema,
  comparison: comparisonJsonSchema,
  saw: sawJsonSchema,
  recut: recutJsonSchema,
  rails: frameRailsJsonSchema,
  answer: answerJsonSchema,
  rack: rackJsonSchema,
  hours: hoursJsonSchema,
  quote: quoteJsonSchema,
};
