/** The OpenAPI document: valid (OpenAPI 3.1 and its own schema), and true of what the door answers. */
import { Validator } from '@seriousme/openapi-schema-validator';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { batchOf } from '../tools/batches.js';
import { ask, closeDoor, type DoorSetting, type Got, openDoor } from '../tools/door.js';

interface Content {
  readonly schema: object;
  readonly example?: unknown;
  readonly examples?: Readonly<Record<string, { readonly value: unknown }>>;
}
interface Operation {
  readonly operationId: string;
  readonly parameters?: readonly {
    readonly name: string;
    readonly description?: string;
    readonly schema?: { readonly description?: string };
  }[];
  readonly requestBody?: { readonly content: Record<string, Content> };
  readonly responses: Record<string, { description: string; content?: Record<string, Content> }>;
}
interface Document {
  readonly openapi: string;
  readonly paths: Record<string, Record<string, Operation>>;
  readonly components: { readonly schemas: Record<string, object> };
}

let setting: DoorSetting;
let document: Document;
let ajv: Ajv2020;
const seen = new Set<string>();

beforeAll(async () => {
  setting = await openDoor();
  document = (await ask(setting.door, 'GET', '/v1/openapi.json')).body as unknown as Document;
  ajv = new Ajv2020({ strict: false, allErrors: true, validateFormats: false });
  ajv.addSchema(document, 'door', false, false);
});

afterAll(() => closeDoor(setting));

const pointer = (...steps: readonly string[]): string =>
  `door#/${steps.map((step) => encodeURIComponent(step.replaceAll('~', '~0').replaceAll('/', '~1'))).join('/')}`;

/** Asks, and holds status, type and body of the answer against the document. */
async function held(
  method: string,
  template: string,
  path: string,
  given: Parameters<typeof ask>[3] = {},
): Promise<Got> {
  const got = await ask(setting.door, method, path, given);
  const operation = document.paths[template]?.[method.toLowerCase()];
  if (operation === undefined) throw new Error(`the document has no ${method} ${template}`);
  const { operationId, responses } = operation;
  seen.add(operationId);
  const answer = responses[String(got.status)];
  if (answer === undefined) throw new Error(`${operationId}: ${got.status} ${got.text.slice(0, 300)}`);
  if (got.text === '') return got;
  const type = (got.headers.get('content-type') ?? '').split(';')[0]!;
  expect([operationId, got.status, ...Object.keys(answer.content ?? {})]).toContain(type);
  if (got.body === null) return got;
  const validate = ajv.getSchema(
    pointer(
      'paths',
      template,
      method.toLowerCase(),
      'responses',
      String(got.status),
      'content',
      type,
      'schema',
    ),
  );
  if (validate?.(got.body) !== true)
    throw new Error(`${operationId} ${got.status}: ${ajv.errorsText(validate?.errors)}`);
  return got;
}

function examplesOf({ example, examples = {} }: Content): unknown[] {
  return [...(example === undefined ? [] : [example]), ...Object.values(examples).map(({ value }) => value)];
}

describe('the OpenAPI document', () => {
  it('is valid OpenAPI 3.1', async () => {
    expect(document.openapi).toBe('3.1.0');
    const result = await new Validator().validate(structuredClone(document) as never);
    expect(result.errors ?? []).toEqual([]);
    for (const [name, schema] of Object.entries(document.components.schemas)) {
      if (ajv.validateSchema(schema) !== true) throw new Error(`${name}: ${ajv.errorsText(ajv.errors)}`);
      expect([name, typeof ajv.getSchema(pointer('components', 'schemas', name))]).toEqual([
        name,
        'function',
      ]);
    }
    expect(JSON.stringify(document)).not.toMatch(/schemas\/\w+Input"/);
  });

  it('has examples that validate, and something to say of every operation', () => {
    let examples = 0;
    for (const [path, methods] of Object.entries(document.paths)) {
      for (const [method, operation] of Object.entries(methods)) {
        const { operationId, requestBody, responses } = operation;
        expect(`${method} ${path} ${operationId}`).toMatch(/ [a-z]\w+$/);
        const parts = [
          ...Object.entries(requestBody?.content ?? {}).map(([type, part]) => ({
            at: ['requestBody', 'content', type],
            part,
          })),
          ...Object.entries(responses).flatMap(([status, { content = {} }]) =>
            Object.entries(content).map(([type, part]) => ({
              at: ['responses', status, 'content', type],
              part,
            })),
          ),
        ];
        for (const { at, part } of parts) {
          const validate = ajv.getSchema(pointer('paths', path, method, ...at, 'schema'));
          for (const shown of examplesOf(part)) {
            examples += 1;
            if (validate?.(shown) !== true)
              throw new Error(`${operationId}: ${ajv.errorsText(validate?.errors)}`);
          }
        }
      }
    }
    expect(examples).toBeGreaterThan(80);
  });

  it('says in words what each parameter, answer and field is, and shows a body to send', () => {
    const silent: string[] = [];
    for (const [path, methods] of Object.entries(document.paths)) {
      for (const [method, { parameters = [], requestBody, responses }] of Object.entries(methods)) {
        const at = `${method} ${path}`;
        for (const { name, description, schema } of parameters)
          if ((description ?? schema?.description ?? '') === '') silent.push(`${at}: ${name}`);
        for (const [status, { description }] of Object.entries(responses))
          if (/^$|default response/i.test(description)) silent.push(`${at}: ${status}`);
        const json = requestBody?.content['application/json'];
        if (json !== undefined && examplesOf(json).length === 0) silent.push(`${at}: body`);
        for (const [status, { content }] of Object.entries(responses)) {
          const answer = content?.['application/json'];
          if (answer !== undefined && examplesOf(answer).length === 0)
            silent.push(`${at}: ${status} example`);
        }
      }
    }
    expect(silent).toEqual([]);
    const { BatchStatus, RackCutting, CutRequest } = document.components.schemas;
    for (const schema of [BatchStatus, RackCutting, CutRequest]) {
      expect(JSON.stringify(schema).match(/"description":/g)?.length).toBeGreaterThan(5);
    }
  });

  it('is also a page, which asks nothing of anywhere', async () => {
    const root = await ask(setting.door, 'GET', '/');
    expect([root.status, root.headers.get('location')]).toEqual([303, '/docs']);
    const page = await ask(setting.door, 'GET', '/docs');
    expect(page.headers.get('content-type')).toMatch(/^text\/html/);
    expect(page.text).not.toMatch(/<script|https?:\/\/(?!shop\.example)|@import|url\(/);
    expect(page.headers.get('content-security-policy')).toContain("default-src 'none'");
    for (const methods of Object.values(document.paths)) {
      for (const { operationId } of Object.values(methods))
        expect(page.text).toContain(`id="${operationId}"`);
    }
  });
});

describe('what the door answers', () => {
  it('is what the document shows, to the bodies it shows', async () => {
    const shown = (method: string, path: string): unknown[] =>
      examplesOf(document.paths[path]![method]!.requestBody!.content['application/json']!);
    const answered = (method: string, path: string, status = 200): unknown =>
      document.paths[path]![method]!.responses[status]!.content!['application/json']!.example;
    const moments = new Set(['submitted', 'started', 'finished', 'elapsed']);
    const still = (value: unknown): unknown =>
      JSON.parse(JSON.stringify(value), (key, inner: unknown) => (moments.has(key) ? 0 : inner));
    for (const [kind, result] of [
      ['batches', 'plan'],
      ['comparisons', 'result'],
    ] as const) {
      const [path, one] = [`/v1/${kind}`, `/v1/${kind}/{id}`];
      const [body] = shown('post', path);
      const taken = await held('POST', path, path, { body });
      expect(taken.body).toEqual(answered('post', path, 202));
      const its = taken.headers.get('location')!;
      const status = await held('GET', one, its, { headers: { prefer: 'wait=60' } });
      expect(still(status.body)).toEqual(still(answered('get', one)));
      expect((await held('POST', path, path, { body })).body).toEqual(answered('post', path));
      expect((await held('GET', `${one}/${result}`, `${its}/${result}`)).body).toEqual(
        answered('get', `${one}/${result}`),
      );
      expect((await held('GET', `${one}/document`, `${its}/document`)).body).toEqual(body);
    }
    const recuts = '/v1/batches/{id}/recuts';
    const [mishap] = shown('post', recuts);
    const made = await held('POST', recuts, '/v1/batches/two-seascapes/recuts', { body: mishap });
    expect(made.body).toEqual(answered('post', recuts, 201));
    for (const path of ['/v1/recuts', '/v1/checks', '/v1/saw-checks', '/v1/rails']) {
      const bodies = shown('post', path);
      const answers = await Promise.all(bodies.map((body) => held('POST', path, path, { body })));
      expect([path, answers[0]!.body]).toEqual([path, answered('post', path)]);
      for (const { body } of answers) expect([path, body.ok ?? true]).toEqual([path, true]);
    }
    const { batch, comparison } = shown('post', '/v1/checks').at(-1) as Record<string, object>;
    const wrong = { ...comparison, totals: { cost: 23.3, bound: 23.3, sticks: 2 } };
    const check = (body: object) => held('POST', '/v1/checks', '/v1/checks', { body });
    const found = await check({ batch, comparison: wrong });
    expect(found.body).toMatchObject({ ok: false, counts: { CHECK_TOTALS: 2 } });
    expect((await check({ batch, comparison, plan: {} })).body).toMatchObject({ code: 'PS_REQUEST' });
  }, 120_000);

  it('is what the document says, for every operation', async () => {
    const batch = batchOf('held', ['ash']);
    await held('GET', '/live', '/live');
    await held('GET', '/ready', '/ready');
    await held('GET', '/v1/me', '/v1/me');
    await held('GET', '/v1/service', '/v1/service');
    await held('GET', '/metrics', '/metrics');
    await held('GET', '/v1/problems/{code}', '/v1/problems/PS_BATCH');
    await held('GET', '/v1/problems/{code}', '/v1/problems/PS_NONE');
    for (const [kind, result] of [
      ['batches', 'plan'],
      ['comparisons', 'result'],
    ] as const) {
      const [one, its] = [`/v1/${kind}/{id}`, `/v1/${kind}/held`];
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, { body: batch });
      await held('GET', one, its, { headers: { prefer: 'wait=60' } });
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, { body: batch });
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, { body: { ...batch, units: 'yd' } });
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, { body: '{' });
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, {
        body: 'x',
        headers: { 'content-type': 'text/plain' },
      });
      await held('POST', `/v1/${kind}`, `/v1/${kind}`, { body: batchOf('held', ['oak']) });
      await held('GET', `/v1/${kind}`, `/v1/${kind}?state=done&limit=10`);
      await held('GET', `/v1/${kind}`, `/v1/${kind}?limit=0`);
      const got = await held('GET', `${one}/${result}`, `${its}/${result}`);
      await held('GET', `${one}/${result}`, `${its}/${result}`, {
        headers: { 'if-none-match': got.headers.get('etag')! },
      });
      await held('GET', `${one}/${result}`, `${its}/${result}`, { headers: { accept: 'text/plain' } });
      await held('GET', `${one}/${result}`, `${its}/${result}`, { headers: { accept: 'audio/ogg' } });
      await held('GET', `${one}/document`, `${its}/document`);
      for (const path of [one, `${one}/${result}`, `${one}/document`]) {
        for (const revision of [1, 7, 'x']) {
          await held('GET', path, `${path.replace('{id}', 'held')}?revision=${revision}`);
        }
      }
      const events = await held('GET', `${one}/events`, `${its}/events`);
      const last = /^id: (.*)$/m.exec(events.text)?.[1] ?? '';
      await held('GET', `${one}/events`, `${its}/events`, { headers: { 'last-event-id': last } });
      await held('DELETE', one, its);
      for (const path of [one, `${one}/${result}`, `${one}/events`, `${one}/document`]) {
        await held('GET', path, path.replace('{id}', 'never'));
      }
    }
    await held('POST', '/v1/checks', '/v1/checks', { body: { batch, plan: batch } });
    const recuts = '/v1/batches/{id}/recuts';
    const made = await held('POST', recuts, '/v1/batches/held/recuts', { body: { lost: ['ash/0/1/top'] } });
    const self = made.headers.get('location')!;
    await held('GET', `${recuts}/{recut}`, self);
    await held('GET', `${recuts}/{recut}`, `${self}?form=html`);
    await held('POST', `${recuts}/{recut}/recuts`, `${self}/recuts`, { body: { lost: ['ash/0/1/top'] } });
    for (const path of ['sheet', 'labels', 'lists', 'lists/{list}']) {
      const its = path.replace('{list}', 'buy');
      await held('GET', `/v1/batches/{id}/${path}`, `/v1/batches/held/${its}`);
      await held('GET', `/v1/batches/{id}/${path}`, `/v1/batches/never/${its}`);
    }
    await held('POST', '/v1/batches/{id}/recuts', '/v1/batches/held/recuts', { body: { lost: ['none'] } });
    const pieces = [{ id: 'r1', moulding: 'ash', length: 1200 }];
    const rack = { schema: 'pairstop/rack@1', units: 'mm', pieces };
    await held('POST', '/v1/rack', '/v1/rack', { body: rack });
    await held('POST', '/v1/rack', '/v1/rack', { body: rack });
    const lies = await held('GET', '/v1/rack', '/v1/rack?moulding=ash');
    expect(lies.body.pieces?.[0]).toMatchObject({ id: 'r1', length: 1200, state: 'free' });
    await held('GET', '/v1/rack', '/v1/rack', { headers: { accept: 'text/csv' } });
    const csv = { body: 'id;moulding;length (mm)\nr2;ash;900', headers: { 'content-type': 'text/csv' } };
    expect((await held('POST', '/v1/rack', '/v1/rack', csv)).status).toBe(201);
    const one = '/v1/rack/pieces/{id}';
    await held('PATCH', one, '/v1/rack/pieces/r1', { body: { place: 'wall' } });
    await held('PATCH', one, '/v1/rack/pieces/r1', { body: { length: '1190 mm', why: 'measured' } });
    await held('PATCH', one, '/v1/rack/pieces/r1', { body: {} });
    await held('PATCH', one, '/v1/rack/pieces/never', { body: { place: null } });
    await held('GET', `${one}/history`, '/v1/rack/pieces/r1/history');
    await held('GET', `${one}/history`, '/v1/rack/pieces/never/history');
    await held('GET', '/v1/rack/expected', '/v1/rack/expected');
    await held('POST', '/v1/rack/counts', '/v1/rack/counts', {
      body: { pieces: [{ id: 'r1' }], settle: true },
    });
    await held('POST', '/v1/rack/counts', '/v1/rack/counts', { body: { pieces: [{ id: 'r1', length: 0 }] } });
    for (const done of ['cuts', 'deliveries']) {
      const path = `/v1/batches/{id}/${done}`;
      await held('POST', path, `/v1/batches/held/${done}`, {
        body: done === 'cuts' ? { offcuts: true } : {},
      });
      await held('POST', path, `/v1/batches/held/${done}`, { body: { count: 'many', run: 0 } });
      await held('POST', path, `/v1/batches/never/${done}`, { body: {} });
    }
    await held('DELETE', '/v1/rack/pieces/{id}', '/v1/rack/pieces/r1');
    await held('DELETE', '/v1/rack/pieces/{id}', '/v1/rack/pieces/r1');
    await held('GET', '/v1/rack/audit', '/v1/rack/audit');
    await held('PUT', '/v1/night', '/v1/night', { body: { close: '22:00', zone: 'Europe/Berlin' } });
    await held('PUT', '/v1/night', '/v1/night', { body: { close: '25:00' } });
    await held('GET', '/v1/night', '/v1/night');
    await held('POST', '/v1/night/closings', '/v1/night/closings');
    await held('POST', '/v1/quotes', '/v1/quotes', { body: { batch, against: 'nothing' } });
    await held('POST', '/v1/quotes', '/v1/quotes', { body: { batch: { ...batch, units: 'yd' } } });
    const all = Object.values(document.paths).flatMap((methods) =>
      Object.values(methods).map(({ operationId }) => operationId),
    );
    const elsewhere = all.filter((id) => /webhook|deliver/i.test(id));
    expect([...all].filter((id) => !seen.has(id) && !elsewhere.includes(id))).toEqual([]);
  }, 240_000);
});
