/** What is said when an id stands for another batch already: what differs, and what to do. */
import type { BatchDocument } from '../../../documents/batch/schema.js';
import { differences } from '../../../documents/difference.js';
import { PairstopError } from '../../../errors.js';
import { documentOf } from '../../../processes/documents.js';
import type { BatchState } from '../../record/steps.js';
import type { Store } from '../../record/store.js';

const SHOWN = 5;

/** The content known under the id; null: no worker has taken it yet, or it cannot be read. */
async function known(store: Store, jobId: string): Promise<BatchDocument | null> {
  const [fingerprint, sealed] = await store.read(jobId, ['fingerprint', 'batch']);
  if (fingerprint === undefined || sealed === undefined) return null;
  try {
    return documentOf(fingerprint.toString(), sealed);
  } catch {
    return null;
  }
}

interface Refused {
  readonly fingerprint: string;
  readonly document: BatchDocument;
  /** `cut`: sticks of the one known are begun; `night`: it is in a night for which the pool has closed. */
  readonly outcome: 'other' | 'cut' | 'night';
  readonly state: BatchState;
}

/** PS_CONFLICT; each difference is a problem, given here and allowed as it is there. */
export async function conflict(
  store: Store,
  jobId: string,
  { document, fingerprint, outcome, state }: Refused,
): Promise<PairstopError> {
  const [print] = await store.read(jobId, ['fingerprint']);
  const there = await known(store, jobId);
  const found = there === null ? [] : differences(there, document, SHOWN + 1);
  const shown = found.slice(0, SHOWN);
  const lines = shown.map(({ path, there: was, here }) => `${path}: ${was} there, ${here} here`);
  if (found.length > shown.length) lines.push('and more');
  lines.push(`fingerprint ${print?.toString() ?? '?'} there, ${fingerprint} here`);
  const what =
    outcome === 'cut'
      ? 'is being cut, so it cannot be replaced; give this one another id'
      : outcome === 'night'
        ? 'is in a night for which the pool has closed, so it cannot be replaced; cancel it first, so that the others are planned without it, or give this one another id'
        : `has been submitted with other content, and is ${state}; give this one another id, or replace it: submit --replace, or replace=true over HTTP`;
  const problems = shown.map(({ path, there: was, here }) => ({
    path,
    given: here,
    allowed: `${was}, as submitted before`,
  }));
  return new PairstopError(
    'PS_CONFLICT',
    [`batch ${JSON.stringify(document.id)} ${what}`, ...lines].join('\n'),
    problems,
  );
}
