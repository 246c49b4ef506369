/** The OpenAPI 3.1 document, made of the schemas the routes check with and of the documents' own. */
import type { FastifyDynamicSwaggerOptions } from '@fastify/swagger';
import { createJsonSchemaTransform, createJsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { batchJsonSchema } from '../../documents/batch/schema.js';
import { comparisonJsonSchema } from '../../documents/comparison/schema.js';
import { planJsonSchema } from '../../documents/plan/schema.js';
import { rackJsonSchema } from '../../documents/rack/schema.js';
import { recutJsonSchema } from '../../documents/recut/schema.js';
import { sawJsonSchema } from '../../documents/saw/schema.js';
import { PROBLEM_TYPE } from '../http/problem.js';
import { PROBLEM_EXAMPLE, REQUEST_EXAMPLES } from './examples.js';
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
    if (example !== undefined && json !== undefined) json.example = example;
    const refused = operation.responses['422']?.content?.[PROBLEM_TYPE];
    if (refused !== undefined) refused.example = PROBLEM_EXAMPLE;
  }
}

const transformObject = createJsonSchemaTransformObject({ schemaRegistry: resources });

export function swaggerOptions(version: string): FastifyDynamicSwaggerOptions {
  return {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Pairstop',
        version,
        description:
          'Plans the cutting of mitred picture frames. Hand in a batch, watch it, fetch its plan. Every length in a batch is a number in its units or text ("16 3/8", "405 mm"); every length in an answer is in millimetres. Errors are problem details (RFC 9457) with a stable code. A cut plan is no instruction in using a saw: its manual and local rules come first.',
        license: { name: 'MIT', identifier: 'MIT' },
      },
      servers: [{ url: '/' }],
      tags: [
        { name: 'batches', description: 'Orders of frames, and their plans' },
        { name: 'comparisons', description: 'Which stick lengths to buy' },
        { name: 'calculations', description: 'Answered at once, nothing is kept' },
        { name: 'rack', description: "The shop's rack, shared by all its batches" },
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
    transform: createJsonSchemaTransform({ schemaRegistry: resources }) as never,
    transformObject: ((document: never) => oneName(transformObject(document))) as never,
  };
}
