/** The OpenAPI 3.1 document, made of the schemas the routes check with and of the documents' own. */
import type { FastifyDynamicSwaggerOptions } from '@fastify/swagger';
import { createJsonSchemaTransform, createJsonSchemaTransformObject } from 'fastify-type-provider-zod';
import * as z from 'zod';
import { batchJsonSchema } from '../../documents/batch/schema.js';
import { comparisonJsonSchema } from '../../documents/comparison/schema.js';
import { planJsonSchema } from '../../documents/plan/schema.js';
import { rackJsonSchema } from '../../documents/rack/schema.js';
import { recutJsonSchema } from '../../documents/recut/schema.js';
import { sawJsonSchema } from '../../documents/saw/schema.js';
import { PROBLEM_TYPE } from '../http/problem.js';
import { ANSWER_EXAMPLES } from './examples/answers.js';
import { CSV_EXAMPLES, MORE_REQUESTS, PROBLEM_EXAMPLE, REQUEST_EXAMPLES } from './examples/requests.js';
import { SHOP_EXAMPLES } from './examples/shop.js';
import { type documents, resources } from './resources.js';

const DOCUMENTS: Readonly<Record<keyof typeof documents, () => Readonly<Record<string, unknown>>>> = {
  Batch: batchJsonSchema,
  Plan: planJsonSchema,
  Comparison: comparisonJsonSchema,
  Recut: recutJsonSchema,
  SawCheck: sawJsonSchema,
  Rack: rackJsonSchema,
};

const INPUT = 'Input';

type ZodToJsonConfig = NonNullable<
  NonNullable<Parameters<typeof createJsonSchemaTransform>[0]>['zodToJsonConfig']
>;

/** What goes in and what comes out is the same here: one name for each, and the documents' own schemas. */
function oneName(document: unknown): object {
  const text = JSON.stringify(document);
  const names = [
    ...new Set([...text.matchAll(/"#\/components\/schemas\/(\w+?)Input"/g)].map(([, name]) => name!)),
  ];
  const tidied = names.reduce(
    (all, name) => all.replaceAll(`"#/components/schemas/${name}${INPUT}"`, `"#/components/schemas/${name}"`),
    text,
  );
  const whole = JSON.parse(tidied) as WithOperations & { components: { schemas: Record<string, unknown> } };
  const { schemas } = whole.components;
  for (const name of Object.keys(schemas)) {
    if (!name.endsWith(INPUT) || !Object.hasOwn(schemas, name.slice(0, -INPUT.length))) continue;
    // Of what goes in, the stricter schema is the one to show.
    if (
      Object.hasOwn(DOCUMENTS, name.slice(0, -INPUT.length)) ||
      /Request$|^RecutOfBatch$|^NewWebhook$|^ChangedWebhook$/.test(name.slice(0, -INPUT.length))
    ) {
      schemas[name.slice(0, -INPUT.length)] = schemas[name];
    }
    delete schemas[name];
  }
  for (const [name, schemaOf] of Object.entries(DOCUMENTS)) {
    const { $schema: _, ...schema } = schemaOf();
    schemas[name] = schema;
  }
  addExamples(whole);
  return whole;
}

interface WithOperations {
  readonly paths?: Readonly<
    Record<
      string,
      Readonly<
        Record<
          string,
          {
            readonly operationId?: string;
            readonly requestBody?: { readonly content: Record<string, Record<string, unknown>> };
            readonly responses: Record<
              string,
              { readonly content?: Record<string, Record<string, unknown>> }
            >;
          }
        >
      >
    >
  >;
}

function addExamples({ paths = {} }: WithOperations): void {
  for (const operation of Object.values(paths).flatMap((methods) => Object.values(methods))) {
    const example = REQUEST_EXAMPLES[operation.operationId ?? ''];
    const json = operation.requestBody?.content['application/json'];
    const more = Object.entries(MORE_REQUESTS[operation.operationId ?? ''] ?? {});
    // OpenAPI has one or the other.
    if (json !== undefined && more.length > 0) {
      json.examples = Object.fromEntries(more.map(([name, value]) => [name, { value }]));
    } else if (json !== undefined && example !== undefined) json.example = example;
    const answers = { ...ANSWER_EXAMPLES, ...SHOP_EXAMPLES }[operation.operationId ?? ''] ?? {};
    for (const [status, shown] of Object.entries(answers)) {
      const answer = operation.responses[status]?.content?.['application/json'];
      if (answer !== undefined) answer.example = shown;
    }
    const csv = operation.requestBody?.content['text/csv'];
    if (csv !== undefined) {
      csv.schema = { type: 'string', description: 'tables of a spreadsheet, with a line of headers' };
      csv.example = CSV_EXAMPLES[operation.operationId ?? ''];
    }
    const refused = operation.responses['422']?.content?.[PROBLEM_TYPE];
    if (refused !== undefined) refused.example = PROBLEM_EXAMPLE;
  }
}

/** What is said of each schema: kept by zod in a registry of its own, which the transform does not read. */
const SAID: ZodToJsonConfig = {
  override: ({ zodSchema, jsonSchema }) => {
    const description = z.globalRegistry.get(zodSchema)?.description;
    if (description !== undefined) jsonSchema.description ??= description;
    // A status without a body.
    if (zodSchema._zod.def.type === 'undefined') jsonSchema.type = 'null';
  },
};

const transform = createJsonSchemaTransform({ schemaRegistry: resources, zodToJsonConfig: SAID });
const transformObject = createJsonSchemaTransformObject({ schemaRegistry: resources, zodToJsonConfig: SAID });

const ABOUT = [
  'Plans the cutting of mitred picture frames. Hand in a batch, watch it, fetch its plan.',
  'A batch on its way: POST it to /v1/batches (202, Location says where it is). Then ask for /v1/batches/{id} until its state is done, failed or cancelled, or listen to /v1/batches/{id}/events, or send "Prefer: wait=30" with either request. Then fetch /v1/batches/{id}/plan. An id stands in a path percent-encoded.',
  'Asking again is safe: the same id with the same content is the same batch, however often it is handed in. After 429 and 503 ask again, when Retry-After says; after a connection that breaks, at once.',
  'Every length in a batch is a number in its units or text ("16 3/8", "405 mm"); every length in an answer is a number of millimetres. Moments are milliseconds since 1970, by the clock of Redis. Fields may be added to answers: ignore those you do not know.',
  'Send the key as "Authorization: Bearer psk_…". Its scopes are read, submit and operate. A key sees its own shop alone.',
  'Bodies are JSON in UTF-8, where said also CSV, and may be compressed (Content-Encoding: gzip, br or deflate). What is wrong is answered as problem details (RFC 9457): code is stable, problems lists each thing with its path, what was given and what is allowed.',
  'A cut plan is no instruction in using a saw: its manual and local rules come first.',
].join('\n\n');

export function swaggerOptions(version: string): FastifyDynamicSwaggerOptions {
  return {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Pairstop',
        version,
        description: ABOUT,
        license: { name: 'MIT', identifier: 'MIT' },
      },
      servers: [{ url: '/' }],
      tags: [
        { name: 'batches', description: 'Orders of frames, and their plans' },
        { name: 'comparisons', description: 'Which stick lengths to buy' },
        { name: 'calculations', description: 'Answered at once, nothing is kept' },
        { name: 'rack', description: "The shop's rack, shared by all its batches" },
        { name: 'night', description: 'Batches that are planned as one, and what one more would add' },
        { name: 'webhooks', description: 'Being told when a batch has ended' },
        { name: 'service', description: 'The door itself' },
      ],
      components: {
        securitySchemes: {
          key: {
            type: 'http',
            scheme: 'bearer',
            description:
              'A key made by "pairstop keys add". A door that only this machine can reach asks for none while there is none.',
          },
        },
      },
      security: [{ key: [] }],
    },
    transform: ((given: Parameters<typeof transform>[0]) => {
      const made = transform(given);
      // Which scope a key must have; none: anyone may ask.
      const { scope } = (given.route.config ?? {}) as { readonly scope?: string };
      return { ...made, schema: { ...made.schema, security: scope === undefined ? [] : [{ key: [scope] }] } };
    }) as never,
    transformObject: ((document: never) => oneName(transformObject(document))) as never,
  };
}
