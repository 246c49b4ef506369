/** A quote as the client asks for it. */
import { randomUUID } from 'node:crypto';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { AGAINST, type QuoteAgainst } from '../../documents/quote/against.js';
import { type Quote, quoteSchema } from '../../documents/quote/schema.js';
import { catalogue, type ErrorCode, PairstopError } from '../../errors.js';
import type { Session } from '../client/session.js';
import { QUOTE_QUEUE } from '../names.js';
import { sleep } from '../redis/waiting.js';

export interface QuoteOptions {
  /** What it is added to: by default the night, what waits in the pool. */
  readonly against?: QuoteAgainst;
  /** Milliseconds for which the pieces of the rack that it would take are held; by default none are. */
  readonly hold?: number;
  /** Milliseconds to wait for a worker; by default 30 s. */
  readonly wait?: number;
}

/** What the pieces of a quote are held under, until the order is planned, if it is submitted in time. */
export function holdOf(order: string): string {
  return `hold/${order}`;
}

const LOOK_MS = 25;
const WAIT_MS = 30_000;
const KEPT_SECONDS = 600;
const HOLD_MOST = 7 * 86_400_000;
const FAILED = /^(PS_[A-Z_]+): ([\s\S]*)$/;

function isCode(text: string): text is ErrorCode {
  return Object.hasOwn(catalogue, text);
}

function failed(reason: string): PairstopError {
  const [, code = '', message = reason] = FAILED.exec(reason) ?? [];
  return new PairstopError(isCode(code) ? code : 'PS_FAILED', message);
}

/** Throws PS_PENDING when no worker has answered in time, and what the order is refused for. */
export async function askQuote(
  session: Session,
  order: BatchDocument,
  { against = 'night', hold = 0, wait = WAIT_MS }: QuoteOptions = {},
): Promise<Quote> {
  if (!AGAINST.includes(against)) {
    throw new PairstopError(
      'PS_USAGE',
      `against: given ${JSON.stringify(against)}; allowed: ${AGAINST.join(', ')}`,
    );
  }
  if (!(Number.isInteger(hold) && hold >= 0 && hold <= HOLD_MOST)) {
    throw new PairstopError('PS_USAGE', `hold: given ${hold}; allowed: whole milliseconds, up to a week`);
  }
  const jobId = `q-${randomUUID()}`;
  const end = Date.now() + wait;
  await session.ask('asking for a quote', () =>
    session.queue(QUOTE_QUEUE).add(
      'quote',
      { schema: 'pairstop/quote-job@1', batch: order, against, hold },
      {
        jobId,
        removeOnComplete: { age: KEPT_SECONDS },
        removeOnFail: { age: KEPT_SECONDS },
        stackTraceLimit: 1,
      },
    ),
  );
  const key = `${session.prefix}:${QUOTE_QUEUE}:${jobId}`;
  for (;;) {
    const [value, reason, finished] = await session.ask('waiting for a quote', () =>
      session.redis.hmget(key, 'returnvalue', 'failedReason', 'finishedOn'),
    );
    if (finished !== null && finished !== undefined) {
      if (value === null || value === undefined) throw failed(reason ?? '');
      return quoteSchema.parse(JSON.parse(value));
    }
    if (Date.now() > end) {
      await session
        .queue(QUOTE_QUEUE)
        .remove(jobId)
        .catch(() => 0);
      throw new PairstopError('PS_PENDING', 'no worker has answered with a quote yet');
    }
    await sleep(LOOK_MS);
  }
}
