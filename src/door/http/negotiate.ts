/** Which form of a thing is wanted (RFC 9110, Accept), and how long whoever asks would wait for it (RFC 7240). */
import type { IncomingMessage } from 'node:http';
import accepts from 'accepts';
import { PairstopError } from '../../errors.js';
import { show } from '../../read/problems.js';
import { refuseRequest } from './problem.js';

/** Each form of a document by its media type. */
export const MEDIA = {
  json: 'application/json',
  text: 'text/plain',
  html: 'text/html',
  csv: 'text/csv',
  svg: 'image/svg+xml',
} as const;

export type Form = keyof typeof MEDIA;

/** The form named by `?form=`, else the best accepted one; the first of `forms` where nothing is said. Throws PS_ACCEPT. */
export function formOf<const F extends Form>(
  request: { readonly raw: IncomingMessage },
  forms: readonly F[],
  named: string | undefined,
): F {
  const allowed = forms.map((form) => MEDIA[form]).join(', ');
  if (named !== undefined) {
    const found = forms.find((form) => form === named);
    if (found !== undefined) return found;
    throw refuseRequest('query.form', show(named), forms.join(', '));
  }
  const best = accepts(request.raw).type(forms.map((form) => MEDIA[form]));
  const found = forms.find((form) => MEDIA[form] === best);
  if (found !== undefined) return found;
  const given = show(request.raw.headers.accept);
  throw new PairstopError('PS_ACCEPT', `Accept: given ${given}; allowed: ${allowed}`, [
    { path: 'headers.accept', given, allowed },
  ]);
}

/** Most seconds anyone is kept waiting; longer ones are watched. */
export const WAIT_MOST = 60;
const SECOND = 1_000;

/** Milliseconds to wait, as `Prefer: wait=10` says; 0 where it says nothing we know, as RFC 7240 has it. */
export function waitOf(header: string | readonly string[] | undefined): number {
  const text = Array.isArray(header) ? header.join(',') : String(header ?? '');
  const found = /(?:^|,)\s*wait\s*=\s*"?(\d{1,6})"?\s*(?:;|,|$)/i.exec(text);
  return found === null ? 0 : Math.min(Number(found[1]), WAIT_MOST) * SECOND;
}
