/** Requests made of the OpenAPI document and spoiled at random, by a seed; each answer judged. */
import { type Agent, request } from 'node:http';
import { gzipSync } from 'node:zlib';
import { catalogue } from '../../src/errors.js';

interface FuzzContent {
  readonly example?: unknown;
  readonly examples?: Readonly<Record<string, { readonly value: unknown }>>;
}

interface FuzzOperation {
  readonly operationId: string;
  readonly parameters?: readonly { readonly name: string; readonly in: string }[];
  readonly requestBody?: { readonly content: Readonly<Record<string, FuzzContent>> };
}

export interface FuzzDocument {
  readonly paths: Readonly<Record<string, Readonly<Record<string, FuzzOperation>>>>;
}

export interface FuzzRequest {
  readonly method: string;
  readonly path: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: Buffer | null;
}

/** mulberry32: small, seeded, good enough to spoil with. */
function randomOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

const IDS = [
  'two-seascapes',
  'never',
  'a b',
  '../..',
  '%00',
  '%ff',
  'ü',
  '‮x',
  'x'.repeat(300),
  '',
  '.',
  '..',
  '1',
  'a/b',
  '%2e%2e%2f',
  '💥',
  "';--",
  '{id}',
];
const VALUES: readonly unknown[] = [
  ...[
    null,
    true,
    false,
    0,
    -1,
    1e308,
    -0,
    0.1,
    '',
    'x',
    '16 3/8',
    "8'",
    'NaN',
    [],
    {},
    [[[[]]]],
    '\u0000',
    '\ud800',
  ],
  ...[
    Number.MAX_SAFE_INTEGER,
    'x'.repeat(5_000),
    { a: { b: { c: 1 } } },
    '../../etc/passwd',
    '<script>',
    '=1+1',
  ],
];
const HEADERS: Readonly<Record<string, readonly string[]>> = {
  accept: [
    'application/json',
    'text/plain',
    'text/html',
    '*/*',
    'image/svg+xml',
    'text/csv',
    'x',
    'a/b;q=2',
    '',
    ','.repeat(200),
    'text/*;q=0.5, */*;q=0',
  ],
  'content-type': [
    'application/json',
    'text/csv',
    'text/plain',
    'application/json; charset=utf-16',
    'multipart/form-data; boundary=x',
    'x',
    '',
    'application/json;'.repeat(20),
  ],
  'content-encoding': ['gzip', 'br', 'deflate', 'identity', 'zstd', 'gzip, gzip', ''],
  prefer: ['wait=0', 'wait=1', 'wait=-5', 'wait=99999999999', 'wait=x', 'respond-async', 'wait="0"', ',,,'],
  'if-none-match': ['*', '"x"', 'W/"x", "y"', '', '"'.repeat(50)],
  'last-event-id': ['x', '', '💥'.normalize(), 'a'.repeat(2_000)],
  authorization: ['Bearer x', 'Basic eA==', 'Bearer psk_000000000000_'.padEnd(70, 'A'), 'Bearer', ''],
  origin: ['https://evil.example', 'null', ''],
  expect: ['100-continue'],
  'accept-encoding': ['gzip', 'br', 'identity;q=0', '*;q=0', 'x'],
  range: ['bytes=0-1'],
  'x-http-method-override': ['DELETE'],
};
const METHODS = ['GET', 'POST', 'PUT', 'DELETE', 'PATCH', 'HEAD', 'OPTIONS'];

class Spoiler {
  readonly #random: () => number;
  readonly #operations: readonly {
    readonly path: string;
    readonly method: string;
    readonly operation: FuzzOperation;
  }[];

  constructor(document: FuzzDocument, seed: number) {
    this.#random = randomOf(seed);
    this.#operations = Object.entries(document.paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({
        path,
        method: method.toUpperCase(),
        operation,
      })),
    );
  }

  #chance(share: number): boolean {
    return this.#random() < share;
  }

  #one<T>(of: readonly T[]): T {
    return of[Math.floor(this.#random() * of.length)]!;
  }

  /** A copy with something in it changed, added or left out. */
  #spoiled(value: unknown, depth = 0): unknown {
    if (depth > 6 || this.#chance(0.12)) return this.#one(VALUES);
    if (Array.isArray(value)) {
      const all = value.map((one) => (this.#chance(0.3) ? this.#spoiled(one, depth + 1) : (one as unknown)));
      return this.#chance(0.1) ? [...all, ...all, ...all] : all;
    }
    if (typeof value !== 'object' || value === null) return this.#chance(0.3) ? this.#one(VALUES) : value;
    const entries = Object.entries(value)
      .filter(() => !this.#chance(0.06))
      .map(([key, one]) => [key, this.#chance(0.35) ? this.#spoiled(one, depth + 1) : (one as unknown)]);
    if (this.#chance(0.08))
      entries.push([this.#one(['extra', '__proto__', 'constructor', '', 'x'.repeat(200)]), 1]);
    return Object.fromEntries(entries);
  }

  #body(example: unknown): Buffer {
    if (this.#chance(0.25)) return Buffer.from(JSON.stringify(example));
    let bytes = Buffer.from(JSON.stringify(this.#spoiled(example)) ?? '');
    if (this.#chance(0.08)) bytes = bytes.subarray(0, Math.floor(this.#random() * bytes.length));
    if (this.#chance(0.05)) bytes = Buffer.concat([bytes, Buffer.from([0xff, 0xfe])]);
    if (this.#chance(0.03)) bytes = Buffer.from('['.repeat(100_000));
    if (this.#chance(0.02)) bytes = Buffer.from(`"${'x'.repeat(300_000)}"`);
    return bytes;
  }

  next(): FuzzRequest {
    const { path, method, operation } = this.#one(this.#operations);
    const filled = path.replaceAll(/\{\w+\}/g, () => {
      const id = this.#one(IDS);
      return this.#chance(0.5)
        ? encodeURIComponent(id.replaceAll(/\p{Surrogate}/gu, ''))
        : encodeURI(id).replaceAll('%25', '%');
    });
    const query = (operation.parameters ?? [])
      .filter((one) => one.in === 'query' && this.#chance(0.5))
      .map(
        ({ name }) =>
          `${name}=${encodeURIComponent(String(this.#one(['json', 'text', 'true', 'x', '', '63x38', 'order', '-1', 'mm', '3x7'])))}`,
      );
    if (this.#chance(0.05))
      query.push(this.#one(['x=1', 'form[]=1', '&&&', '%', 'a=%ff', `q=${'x'.repeat(3_000)}`]));
    const headers: Record<string, string> = {};
    for (const [name, values] of Object.entries(HEADERS)) {
      if (this.#chance(0.08)) headers[name] = this.#one(values).replaceAll(/[^\x20-\x7e]/g, '');
    }
    const { example: only, examples = {} } = operation.requestBody?.content['application/json'] ?? {};
    const shown = [
      ...(only === undefined ? [] : [only]),
      ...Object.values(examples).map(({ value }) => value),
    ];
    const example = shown.length === 0 ? {} : this.#one(shown);
    let body = operation.requestBody !== undefined || this.#chance(0.05) ? this.#body(example) : null;
    if (body !== null) headers['content-type'] ??= 'application/json';
    if (body !== null && headers['content-encoding'] === 'gzip' && this.#chance(0.7)) body = gzipSync(body);
    if (headers.expect !== undefined && body === null) delete headers.expect;
    return {
      method: this.#chance(0.05) ? this.#one(METHODS) : method,
      path: `${filled}${query.length > 0 ? `?${query.join('&')}` : ''}`,
      headers,
      body,
    };
  }
}

export function fuzzRequests(document: FuzzDocument, seed: number, count: number): FuzzRequest[] {
  const spoiler = new Spoiler(document, seed);
  return Array.from({ length: count }, () => spoiler.next());
}

const HANG_MS = 30_000;

/** What is wrong with the answer; null: nothing. */
export function judge(
  url: string,
  agent: Agent,
  { method, path, headers, body }: FuzzRequest,
): Promise<string | null> {
  return new Promise((resolve) => {
    const { hostname, port } = new URL(url);
    const sent = body === null ? headers : { ...headers, 'content-length': String(body.length) };
    const asked = request({ hostname, port, method, path, headers: sent, agent });
    const late = setTimeout(() => {
      asked.destroy();
      resolve('no answer in time');
    }, HANG_MS);
    const done = (fault: string | null): void => {
      clearTimeout(late);
      resolve(fault);
    };
    asked.on('error', (error: Error & { code?: string }) => {
      // Told to go away before all of the body was sent.
      done(
        error.code === 'ECONNRESET' || error.code === 'EPIPE' ? null : `error ${error.code ?? error.message}`,
      );
    });
    asked.on('response', (response) => {
      const status = response.statusCode ?? 0;
      const type = response.headers['content-type'] ?? '';
      if (type.startsWith('text/event-stream')) {
        asked.destroy();
        return done(null);
      }
      let text = '';
      response.setEncoding('utf8').on('data', (chunk: string) => {
        text += chunk;
      });
      response.on('end', () =>
        done(faultIn(method, status, type, response.headers['content-encoding'], text)),
      );
      response.on('error', () => done('the answer broke off'));
    });
    if (headers.expect === '100-continue') asked.flushHeaders();
    asked.end(body ?? undefined);
  });
}

function faultIn(
  method: string,
  status: number,
  type: string,
  encoding: string | undefined,
  text: string,
): string | null {
  if (status >= 500 || status < 200) return `${status}: ${text.slice(0, 300)}`;
  if (status < 400 || method === 'HEAD' || encoding !== undefined) return null;
  if (!type.startsWith('application/problem+json')) return `${status} as ${type}: ${text.slice(0, 300)}`;
  const { code } = JSON.parse(text) as { code: string };
  if (!Object.hasOwn(catalogue, code)) return `the code ${code} is not in the catalogue`;
  return /\n\s+at .+:\d+:\d+/.test(text) ? 'a stack' : null;
}
