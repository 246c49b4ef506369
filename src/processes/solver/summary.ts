/** What the service notes of a batch that has been read. */
import type { ReadBatchResult } from '../../documents/batch/read.js';
import { railsIn } from '../../rails/rails.js';
import { refuseUncuttable } from '../../stock/refusals.js';
import { comparedOrders, ResolvedBatch } from '../../stock/resolved.js';
import { fingerprintOf } from '../envelope.js';
import { expectedTimes } from '../expected.js';
import { seal } from '../seal.js';
import { solvingTime, woodMayComeFirst } from '../share.js';
import type { Holding } from './holding.js';
import type { BatchSummary, WorkKind } from './tasks.js';

/** Throws PS_BATCH for frames no stick can hold. */
export function summaryOf(
  { document, batch, work }: ReadBatchResult & { readonly work: WorkKind },
  held: Holding<ResolvedBatch> | null,
): BatchSummary {
  const resolved = new ResolvedBatch(batch);
  refuseUncuttable(resolved);
  const { urgency, notBefore } = batch.options;
  const print = fingerprintOf(document, work);
  const sealed = seal({ kind: 'batch', batch: print, moulding: '' }, JSON.stringify(document));
  held?.keep(print, sealed.length, resolved);
  const mouldings =
    work === 'plan'
      ? batch.mouldings.map(({ id }) => id)
      : comparedOrders(resolved).map(({ moulding }) => moulding.id);
  const solving = Math.round(solvingTime(batch));
  return {
    id: batch.id,
    fingerprint: print,
    work,
    mouldings,
    rails: railsIn(batch),
    solving,
    expected: expectedTimes(batch, work, mouldings, solving),
    woodFirst: work === 'plan' && woodMayComeFirst(batch),
    shop: batch.rack === 'shop',
    pool: batch.options.pool && work === 'plan',
    urgency,
    notBefore,
    sealed,
  };
}
