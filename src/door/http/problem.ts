/** Errors as problem details (RFC 9457), each with its code of the catalogue. Never a stack. */
import { catalogue, type ErrorCode, type InputProblem, PairstopError } from '../../errors.js';

/** What a code means over HTTP; refused input that is not listed is 422, any other fault 500. */
const STATUSES: Readonly<Partial<Record<ErrorCode, number>>> = {
  PS_JSON: 400,
  PS_REQUEST: 400,
  PS_USAGE: 400,
  PS_KEY: 401,
  PS_SCOPE: 403,
  PS_UNKNOWN: 404,
  PS_WEBHOOK: 404,
  PS_ROUTE: 404,
  PS_METHOD: 405,
  PS_ACCEPT: 406,
  PS_CONFLICT: 409,
  PS_PENDING: 409,
  PS_CANCELLED: 409,
  PS_ENDED: 409,
  PS_LARGE: 413,
  PS_MEDIA: 415,
  PS_RATE: 429,
  PS_BUSY: 503,
  PS_REDIS: 503,
};

const REFUSED = 422;
const FAULT = 500;
const DETAIL_MOST = 4_000;
/** Seconds after which asking again may help. */
const AGAIN: Readonly<Partial<Record<ErrorCode, number>>> = {
  PS_PENDING: 1,
  PS_RATE: 1,
  PS_BUSY: 5,
  PS_REDIS: 5,
};

export const PROBLEM_TYPE = 'application/problem+json';

export interface ProblemDetails {
  /** Where the code is explained, a path below this server. */
  readonly type: string;
  readonly title: string;
  readonly status: number;
  readonly detail: string;
  readonly code: ErrorCode;
  readonly problems: readonly InputProblem[];
}

/** An error that is answered by another status than its code alone would be, or with further headers. */
export class HttpAnswer extends PairstopError {
  readonly status: number | null;
  readonly headers: Readonly<Record<string, string>>;

  constructor(
    error: {
      readonly code: ErrorCode;
      readonly message: string;
      readonly problems?: readonly InputProblem[];
    },
    {
      status = null,
      headers = {},
    }: { status?: number | null; headers?: Readonly<Record<string, string>> } = {},
  ) {
    super(error.code, error.message, error.problems ?? []);
    this.status = status;
    this.headers = headers;
  }
}

export function refuseRequest(path: string, given: string, allowed: string): PairstopError {
  return new PairstopError('PS_REQUEST', `${path}: given ${given}; allowed: ${allowed}`, [
    { path, given, allowed },
  ]);
}

export function statusOf(code: ErrorCode): number {
  return STATUSES[code] ?? (catalogue[code].exit === 2 ? REFUSED : FAULT);
}

/** Fastify's own refusals, by its codes. */
const FASTIFY: Readonly<Record<string, ErrorCode>> = {
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'PS_MEDIA',
  FST_ERR_CTP_BODY_TOO_LARGE: 'PS_LARGE',
};

function property(error: unknown, name: string): unknown {
  return typeof error === 'object' && error !== null ? Reflect.get(error, name) : undefined;
}

/** Null for a fault of the program, which is for the log and not for whoever asked. */
export function knownError(error: unknown): PairstopError | null {
  if (error instanceof PairstopError) return error;
  const [code, status] = [property(error, 'code'), property(error, 'statusCode')];
  const known = typeof code === 'string' && Object.hasOwn(FASTIFY, code) ? FASTIFY[code] : undefined;
  const message = error instanceof Error ? error.message : 'the request is refused';
  if (known === 'PS_MEDIA') {
    return new PairstopError(
      known,
      'Content-Type: allowed: application/json in UTF-8; orders may be text/csv',
    );
  }
  if (known !== undefined) return new PairstopError(known, message);
  if (typeof status === 'number' && status >= 400 && status < 500)
    return new PairstopError('PS_REQUEST', message);
  return null;
}

export interface ProblemAnswer {
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: ProblemDetails;
}

export function problemAnswer(error: PairstopError): ProblemAnswer {
  const { code, message, problems } = error;
  const own = error instanceof HttpAnswer ? error : null;
  const status = own?.status ?? statusOf(code);
  const again = AGAIN[code];
  return {
    status,
    headers: {
      ...(again === undefined ? {} : { 'retry-after': String(again) }),
      ...(status === 401 ? { 'www-authenticate': 'Bearer realm="pairstop"' } : {}),
      ...own?.headers,
    },
    body: {
      type: `/v1/problems/${code}`,
      title: catalogue[code].about,
      status,
      detail: message.split('\n')[0]!.slice(0, DETAIL_MOST),
      code,
      problems,
    },
  };
}
