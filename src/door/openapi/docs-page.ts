/** The OpenAPI document as a page to read: one file, no script, nothing asked of anywhere else. */
import { type ComponentChildren, h } from 'preact';
import { renderToString } from 'preact-render-to-string';

interface Parameter {
  readonly name: string;
  readonly in: string;
  readonly required?: boolean;
  readonly description?: string;
  readonly schema?: OpenApiNode;
}

interface OpenApiNode {
  readonly $ref?: string;
  readonly type?: string | readonly string[];
  readonly description?: string;
  readonly properties?: Readonly<Record<string, OpenApiNode>>;
  readonly required?: readonly string[];
  readonly items?: OpenApiNode;
  readonly enum?: readonly unknown[];
  readonly const?: unknown;
  readonly anyOf?: readonly OpenApiNode[];
  readonly oneOf?: readonly OpenApiNode[];
}

interface Media {
  readonly schema?: OpenApiNode;
  readonly example?: unknown;
  readonly examples?: Readonly<Record<string, { readonly value: unknown }>>;
}

type Content = Readonly<Record<string, Media>>;

interface Operation {
  readonly operationId: string;
  readonly summary?: string;
  readonly description?: string;
  readonly tags?: readonly string[];
  readonly security?: readonly Readonly<Record<string, readonly string[]>>[];
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: { readonly content: Content };
  readonly responses: Readonly<Record<string, { readonly description: string; readonly content?: Content }>>;
}

export interface OpenApiDocument {
  readonly info: { readonly title: string; readonly version: string; readonly description?: string };
  readonly tags: readonly { readonly name: string; readonly description: string }[];
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, OpenApiNode>> };
}

const STYLE = `
body { font: 16px/1.5 Georgia, serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; color: #111; background: #fff }
code, pre { font: 14px/1.4 ui-monospace, monospace } h1, h2, h3 { line-height: 1.2 }
h3 { margin-top: 2.5rem; border-top: 1px solid #777; padding-top: .6rem } h3 code { font-size: 17px; font-weight: bold }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 } td, th { text-align: left; vertical-align: top; padding: .25rem .8rem .25rem 0; border-bottom: 1px solid #ccc }
td, h3 { overflow-wrap: break-word } td:last-child { padding-right: 0 }
pre { white-space: pre-wrap; overflow-wrap: anywhere; border-left: 3px solid #777; padding-left: .8rem } a { color: inherit }
@media screen and (max-width: 45rem) { table, tbody, tr, td { display: block } td { border: 0; padding: 0 } tr { border-bottom: 1px solid #ccc; padding: .3rem 0 } }
@page { margin: 15mm 12mm }
@media print {
  body { font-size: 10pt; max-width: none; margin: 0; padding: 0 } code, pre { font-size: 8.5pt } h3 code { font-size: 11pt }
  h1, h2, h3, summary { break-after: avoid } tr { break-inside: avoid } tr:has(pre) { break-inside: auto } p { orphans: 3; widows: 3 }
  details::details-content { content-visibility: visible; display: block } a { text-decoration: none }
}`;

/** A path that may be broken after each of its steps. */
function pathCode(path: string): ComponentChildren {
  const steps = path.split(/(?<=[./])(?=.)/);
  return h(
    'code',
    {},
    steps.flatMap((step, i) => (i === 0 ? [step] : [h('wbr', { key: i }), step])),
  );
}

function refName(ref: string): string {
  return ref.split('/').at(-1) ?? ref;
}

function typeOf(node: OpenApiNode | undefined): ComponentChildren {
  if (node === undefined) return 'anything';
  if (node.$ref !== undefined) {
    const name = refName(node.$ref);
    return h('a', { href: `#${name}` }, name);
  }
  if (node.const !== undefined) return JSON.stringify(node.const);
  if (node.enum !== undefined) return node.enum.map((one) => JSON.stringify(one)).join(' | ');
  const some = node.anyOf ?? node.oneOf;
  if (some !== undefined && node.properties === undefined) {
    return some.map((one, i) => [i === 0 ? '' : ' | ', typeOf(one)]);
  }
  if (node.items !== undefined) return ['list of ', typeOf(node.items)];
  return Array.isArray(node.type) ? node.type.join(' | ') : (node.type ?? 'anything');
}

function fieldsOf(node: OpenApiNode, prefix: string, depth: number): ComponentChildren[] {
  return Object.entries(node.properties ?? {}).flatMap(([name, field]) => {
    const path = prefix === '' ? name : `${prefix}.${name}`;
    const must = node.required?.includes(name) === true ? '' : ' (optional)';
    const row = h('tr', { key: path }, [
      h('td', {}, pathCode(path)),
      h('td', {}, typeOf(field)),
      h('td', {}, `${field.description ?? ''}${must}`),
    ]);
    const inner = field.items?.properties === undefined ? field : field.items;
    const inside = field.items?.properties === undefined ? path : `${path}[]`;
    return depth > 0 && inner.properties !== undefined ? [row, ...fieldsOf(inner, inside, depth - 1)] : [row];
  });
}

const DEPTH = 6;

function schemaPart([name, node]: [string, OpenApiNode]): ComponentChildren {
  return h('section', { id: name, key: name }, [
    h('h3', {}, h('code', {}, name)),
    h('p', {}, node.description ?? ''),
    h('table', {}, fieldsOf(node, '', DEPTH)),
  ]);
}

const LINE_WIDTH = 90;
/** Longer ones are folded up. */
const LONG_EXAMPLE = 1_500;

/** JSON to read: what fits on a line stands on it. */
function readable(value: unknown, indent = ''): string {
  const flat = JSON.stringify(value);
  if (typeof value !== 'object' || value === null || indent.length + flat.length <= LINE_WIDTH) {
    return flat.replaceAll(
      /("(?:[^"\\]|\\.)*")|([,:])/g,
      (all, text: string | undefined) => text ?? `${all} `,
    );
  }
  const inner = `${indent}  `;
  const list = Array.isArray(value);
  const parts = Object.entries(value).map(([key, one]) => {
    const before = list ? '' : `${JSON.stringify(key)}: `;
    return `${inner}${before}${readable(one, inner)}`;
  });
  return `${list ? '[' : '{'}\n${parts.join(',\n')}\n${indent}${list ? ']' : '}'}`;
}

function shownPart(name: string, shown: unknown): ComponentChildren {
  const text = typeof shown === 'string' ? shown : readable(shown);
  if (text.length < LONG_EXAMPLE) return h('pre', { key: name }, text);
  return h('details', { key: name }, [h('summary', {}, name), h('pre', {}, text)]);
}

function contentPart(content: Content | undefined): ComponentChildren[] {
  return Object.entries(content ?? {}).flatMap(([type, { schema, example, examples = {} }]) => [
    h('div', { key: type }, [h('code', {}, type), ': ', typeOf(schema)]),
    ...(example === undefined ? [] : [shownPart('an example', example)]),
    ...Object.entries(examples).map(([name, { value }]) => shownPart(`an example with ${name}`, value)),
  ]);
}

/** Plain paragraphs. */
function paragraphs(text: string | undefined): ComponentChildren[] {
  return (text ?? '').split('\n\n').map((one, i) => h('p', { key: i }, one));
}

/** Answers that any call that needs a key may give: told once, not at each. */
const ANY = ['400', '401', '403', '429', '503'];

function isOfAny({ responses }: Operation): boolean {
  return ANY.every((status) => status in responses);
}

function anyPart(operations: readonly Operation[]): ComponentChildren {
  const one = operations.find(isOfAny);
  if (one === undefined) return null;
  return h('section', { id: 'any' }, [
    h('h2', {}, 'What any call may answer'),
    h(
      'table',
      {},
      ANY.map((status) =>
        h('tr', { key: status }, [
          h('td', {}, h('b', {}, status)),
          h('td', {}, one.responses[status]?.description ?? ''),
          h('td', {}, contentPart(one.responses[status]?.content)),
        ]),
      ),
    ),
  ]);
}

function operationPart(path: string, method: string, operation: Operation): ComponentChildren {
  const { operationId, summary, description, parameters = [], requestBody, responses } = operation;
  const [scope] = Object.values(operation.security?.[0] ?? {}).flat();
  return h('section', { id: operationId, key: operationId }, [
    h('h3', {}, pathCode(`${method.toUpperCase()} ${path}`)),
    h('p', {}, h('b', {}, summary ?? '')),
    ...(description === undefined ? [] : paragraphs(description)),
    h('p', {}, scope === undefined ? 'Needs no key.' : `Needs a key with the scope ${scope}.`),
    parameters.length === 0
      ? null
      : h(
          'table',
          {},
          parameters.map((one) =>
            h('tr', { key: one.name }, [
              h('td', {}, h('code', {}, one.name)),
              h('td', {}, `in the ${one.in}${one.required === true ? '' : ', optional'}`),
              h('td', {}, one.description ?? one.schema?.description ?? ''),
            ]),
          ),
        ),
    requestBody === undefined ? null : [h('p', {}, 'Send:'), ...contentPart(requestBody.content)],
    h('table', {}, [
      ...Object.entries(responses)
        .filter(([status]) => !isOfAny(operation) || !ANY.includes(status))
        .map(([status, answer]) =>
          h('tr', { key: status }, [
            h('td', {}, h('b', {}, status)),
            h('td', {}, answer.description),
            h('td', {}, contentPart(answer.content)),
          ]),
        ),
      isOfAny(operation)
        ? h('tr', { key: 'any' }, [
            h('td', {}, h('a', { href: '#any' }, '4xx, 5xx')),
            h('td', { colSpan: 2 }, 'as any call'),
          ])
        : null,
    ]),
  ]);
}

export function docsPage({ info, tags, paths, components }: OpenApiDocument): string {
  const operations = Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]) => ({ path, method, operation })),
  );
  const page = h('html', { lang: 'en' }, [
    h('head', {}, [
      h('meta', { charset: 'utf-8' }),
      h('meta', { name: 'viewport', content: 'width=device-width' }),
      h('title', {}, `${info.title}: the door`),
      h('style', { dangerouslySetInnerHTML: { __html: STYLE } }),
    ]),
    h('body', {}, [
      h('h1', {}, `${info.title} ${info.version}: called over HTTP`),
      ...paragraphs(info.description),
      h('p', {}, [
        'The same for programs: ',
        h('a', { href: '/v1/openapi.json' }, '/v1/openapi.json'),
        ' (OpenAPI 3.1).',
      ]),
      h(
        'table',
        {},
        tags.map(({ name, description }) =>
          h('tr', { key: name }, [
            h('td', {}, description),
            h(
              'td',
              {},
              operations
                .filter(({ operation }) => operation.tags?.includes(name))
                .map(({ path, method, operation }) =>
                  h('div', { key: operation.operationId }, [
                    h('a', { href: `#${operation.operationId}` }, operation.summary ?? operation.operationId),
                    ' ',
                    pathCode(`${method.toUpperCase()} ${path}`),
                  ]),
                ),
            ),
          ]),
        ),
      ),
      anyPart(operations.map(({ operation }) => operation)),
      ...tags.map(({ name, description }) =>
        h('section', { key: name }, [
          h('h2', {}, description),
          ...operations
            .filter(({ operation }) => operation.tags?.includes(name))
            .map(({ path, method, operation }) => operationPart(path, method, operation)),
        ]),
      ),
      h('h2', {}, 'What is sent and answered'),
      ...Object.entries(components.schemas).map(schemaPart),
    ]),
  ]);
  return `<!doctype html>${renderToString(page)}`;
}
