/** How routes say what they answer. */
import * as z from 'zod';
import { PROBLEM_TYPE } from '../http/problem.js';
import { problem } from './resources.js';

interface Described {
  readonly description: string;
  readonly content: Readonly<Record<string, { readonly schema: z.ZodType }>>;
}

const MEANINGS: Readonly<Record<number, string>> = {
  400: 'the request is not understood: its path, query, headers or JSON',
  401: 'no key, or one that is wrong, revoked or past its days',
  403: 'the key may not do this',
  404: 'there is no such thing',
  406: 'none of the accepted media types can be given',
  409: 'the state it is in does not allow this',
  413: 'the body is too large',
  415: 'the body is of a kind that is not taken',
  422: 'understood and refused; every problem is listed',
  429: 'too many requests; Retry-After says when to come again',
  503: 'busy, or Redis is away; Retry-After says when to come again',
};

/** Any call that needs a key may be answered so. */
const ALWAYS = [400, 401, 403, 429, 503];

/** What may go wrong, as problem details. */
export function problems(...statuses: readonly number[]): Readonly<Record<number, Described>> {
  return Object.fromEntries(
    [...ALWAYS, ...statuses].map((status) => [
      status,
      { description: MEANINGS[status] ?? 'a fault', content: { [PROBLEM_TYPE]: { schema: problem } } },
    ]),
  );
}

const text = z.string();

/** One answer in one or more forms. */
export function answers(
  description: string,
  json: z.ZodType | null,
  ...others: readonly ('text/plain' | 'text/html' | 'text/csv' | 'image/svg+xml' | 'text/event-stream')[]
): Described {
  return {
    description,
    content: {
      ...(json === null ? {} : { 'application/json': { schema: json } }),
      ...Object.fromEntries(others.map((type) => [type, { schema: text }])),
    },
  };
}

/** A status without a body. */
export function empty(description: string) {
  return z.undefined().describe(description);
}
