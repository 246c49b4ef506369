/** A batch on its way into the queue: read, held against what can be cut, claimed in the store, added as a job. */
import { checkBatch, type ReadBatchResult, readBatchDocument } from '../../../documents/batch/read.js';
import type { BatchDocument } from '../../../documents/batch/schema.js';
import { PairstopError } from '../../../errors.js';
import { envelopeOf, fingerprintOf } from '../../../processes/envelope.js';
import { railsIn } from '../../../rails/rails.js';
import { refuseUncuttable } from '../../../stock/refusals.js';
import { comparedOrders, ResolvedBatch } from '../../../stock/resolved.js';
import { batchQueue, jobIdOf, NIGHT_QUEUE } from '../../names.js';
import { holdOf } from '../../night/ask-quote.js';
import { placeFor, scheduleClosing } from '../../night/joining.js';
import { RAILS_ALWAYS, railsMost, tooManyRails } from '../../room.js';
import { spoiledRun } from '../../worker/intact.js';
import type { Submission, SubmitOptions } from '../client-api.js';
import { requireWork } from '../options.js';
import type { Session } from '../session.js';
import { addBatch } from './add-batch.js';
import { makeRoom } from './clearing.js';
import { conflict } from './conflict.js';

const DAY = 86_400_000;
/** A batch that may not start for longer than this is a slip of the pen. */
const LATEST_START = 366 * DAY;

export type Given = BatchDocument | string | Uint8Array;

export function readGiven(given: Given): ReadBatchResult {
  if (typeof given === 'string' || given instanceof Uint8Array) return readBatchDocument(given);
  return { document: given, batch: checkBatch(given) };
}

/** Milliseconds until it may start. */
function delayOf({ notBefore }: ReadBatchResult['batch']['options'], document: BatchDocument): number {
  const delay = notBefore === null ? 0 : Math.max(0, notBefore - Date.now());
  if (delay <= LATEST_START) return delay;
  throw new PairstopError(
    'PS_BATCH',
    `options.notBefore: given ${document.options?.notBefore ?? ''}; allowed: within a year from now`,
  );
}

/** `retention`: milliseconds that a finished job is kept. Throws what reading, refusing and the store do. */
export async function submitTo(
  session: Session,
  retention: number,
  given: Given,
  { work = 'plan', replace = false }: SubmitOptions,
): Promise<Submission> {
  requireWork(work);
  const { document, batch } = readGiven(given);
  const resolved = new ResolvedBatch(batch);
  refuseUncuttable(resolved);
  if (work === 'compare') comparedOrders(resolved);
  const { urgency } = batch.options;
  const delay = delayOf(batch.options, document);
  const identity = { id: batch.id, fingerprint: fingerprintOf(document, work), urgency };
  const jobId = jobIdOf(batch.id, work);
  const rails = railsIn(batch);
  return session.ask('submitting', async () => {
    const most = rails > RAILS_ALWAYS ? await railsMost(session.redis, session.keys, urgency) : null;
    if (most !== null && rails > most) throw tooManyRails(rails, most);
    const { store, who } = session;
    const pooled = batch.options.pool && work === 'plan';
    const pool = pooled ? await placeFor(store, document, identity.fingerprint) : null;
    // What a quote holds is for the order itself, until it is planned.
    const hold = batch.rack !== null && work === 'plan' ? jobIdOf(holdOf(batch.id)) : null;
    let claim = await store.claim(jobId, identity, who, { replace, pool, hold });
    if (claim.outcome === 'same' && claim.state === 'done' && !pooled) {
      const spoiled = await spoiledRun(store, jobId, work, identity.fingerprint);
      if (spoiled !== null) claim = await store.claim(jobId, identity, who, { spoiled, hold });
    }
    const { outcome, fingerprint, state, jobExists, revision } = claim;
    if (outcome === 'newer') {
      throw new PairstopError(
        'PS_VERSION',
        `the record of batch ${JSON.stringify(batch.id)} was written by a newer version of Pairstop; upgrade this one`,
      );
    }
    if (outcome === 'other' || outcome === 'cut' || outcome === 'night') {
      const refused = { document, fingerprint: identity.fingerprint, outcome, state };
      throw await conflict(store, jobId, refused);
    }
    if (outcome === 'replaced') await makeRoom(session, jobId);
    if (pooled) await scheduleClosing(session.queue(NIGHT_QUEUE), store);
    else if (state === 'waiting' || state === 'running') {
      await addBatch(session.queue(batchQueue(urgency)), store, {
        jobId,
        exists: jobExists,
        payload: envelopeOf(document, work, given instanceof Uint8Array ? given : undefined),
        delay,
        retention,
      });
    }
    return { id: batch.id, fingerprint, outcome, state, revision };
  });
}
