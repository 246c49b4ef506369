/** Quotes through the queue: a job each, whose return value is the quote. A worker plans both sides at once. */
import type { Job } from 'bullmq';
import * as z from 'zod';
import { checkBatch } from '../../documents/batch/read.js';
import type { BatchDocument } from '../../documents/batch/schema.js';
import { AGAINST } from '../../documents/quote/against.js';
import type { Quote } from '../../documents/quote/schema.js';
import { PairstopError } from '../../errors.js';
import { documentOf } from '../../processes/documents.js';
import { quoteIn } from '../../processes/quote-batch.js';
import type { Shelved } from '../../rack/terms.js';
import { parseJson } from '../../read/json.js';
import { BATCH_BYTES, BATCH_VALUES } from '../../read/limits.js';
import { refuseUncuttable } from '../../stock/refusals.js';
import { ResolvedBatch } from '../../stock/resolved.js';
import { jobIdOf } from '../names.js';
import { giveUp } from '../worker/give-up.js';
import { payloadOf } from '../worker/raw-worker.js';
import type { Service } from '../worker/service.js';
import { holdOf } from './ask-quote.js';

export const QUOTE_JOB = 'quote';
export const QUOTE_SCHEMA = 'pairstop/quote-job@1';
/** A quote that is held longer ties up the rack of a shop: a week. */
export const HOLD_MOST = 7 * 86_400_000;

const payloadSchema = z.strictObject({
  schema: z.literal(QUOTE_SCHEMA),
  batch: z.unknown(),
  against: z.enum(AGAINST).default('night'),
  /** Milliseconds the pieces of the rack are held for it; 0: none is. */
  hold: z.int().min(0).max(HOLD_MOST).default(0),
});

function readPayload(text: string): { order: BatchDocument; against: Quote['against']; hold: number } {
  const { data } = payloadSchema.safeParse(
    parseJson(Buffer.from(text), { bytes: BATCH_BYTES, values: BATCH_VALUES }),
  );
  if (data === undefined) {
    throw new PairstopError(
      'PS_PAYLOAD',
      `not a quote's job; allowed: schema "${QUOTE_SCHEMA}", batch, against (${AGAINST.join(', ')}), hold (milliseconds)`,
    );
  }
  const batch = checkBatch(data.batch);
  if (data.against !== 'rack' && batch.rack === null) refuseUncuttable(new ResolvedBatch(batch));
  return { order: data.batch as BatchDocument, against: data.against, hold: data.hold };
}

async function waitingOrders({ store }: Service): Promise<readonly BatchDocument[]> {
  const { waiting } = await store.night.state();
  const found: BatchDocument[] = [];
  for (const jobId of waiting) {
    const [fingerprint, sealed] = await store.read(jobId, ['fingerprint', 'batch']);
    if (fingerprint !== undefined && sealed !== undefined) {
      found.push(documentOf(fingerprint.toString(), sealed));
    }
  }
  return found;
}

/** Reserves these pieces if all of them are on the rack and still free. Null: one is not, or there is none. */
async function held(
  { rack, store }: Service,
  order: string,
  pieces: readonly string[],
  hold: number,
): Promise<Quote['held']> {
  // Sticks of the order's own are no pieces of the rack: there is nothing to hold.
  if (pieces.length === 0 || (await rack.pieces(pieces)).length < pieces.length) return null;
  const id = holdOf(order);
  const until = (await store.now()) + hold;
  await store.night.hold(jobIdOf(id), id, hold);
  const free = ({ state }: Shelved): boolean => state.kind === 'free';
  const taken = await rack.deal(
    { who: 'service', why: 'held for a quote' },
    (ask) => ask(),
    async () => {
      const known = await rack.pieces(pieces);
      const all = known.length === pieces.length && known.every(free);
      const happening = { kind: 'reserved', batch: id, pieces } as const;
      return { known: { pieces: known, expected: [] }, happenings: all ? [happening] : [], answer: all };
    },
  );
  return taken ? { id, until, pieces: [...pieces] } : null;
}

export async function processQuote(service: Service, job: Job): Promise<Quote> {
  try {
    const { order, against, hold } = readPayload(payloadOf(job));
    const night = against === 'night' ? await waitingOrders(service) : [];
    const mouldings = against === 'nothing' ? [] : (order.mouldings ?? []).map(({ id }) => id);
    const free = await Promise.all(mouldings.map((moulding) => service.rack.free(moulding)));
    // What is held for this order already is there for it.
    const before = mouldings.length === 0 ? [] : await service.rack.reserved(holdOf(order.id));
    const own = before.filter(({ piece }) => mouldings.includes(piece.moulding));
    const rack = [...free.flat(), ...own].map(({ piece }) => piece);
    const { zone } = (await service.store.night.state()).settings;
    const { quote, pieces } = await quoteIn(service.pools.now, order, { against, night, rack, zone });
    return hold === 0 ? quote : { ...quote, held: await held(service, order.id, pieces, hold) };
  } catch (error) {
    // A quote is asked for again by whoever needs it: nobody waits for a second attempt.
    throw error instanceof PairstopError ? giveUp(error) : error;
  }
}
