/** The batch that belongs to a plan. */
import { checkBatch } from '../../documents/batch/read.js';
import type { Client } from '../../queue/client/client.js';
import type { Batch } from '../../terms.js';
import { asRevision, type RevisionWanted } from '../revision.js';

/** The batch a plan is of: its night's, where it is planned with others. */
export async function batchOfPlan(
  client: Client,
  wanted: RevisionWanted,
  { batch }: { readonly batch: string },
): Promise<Batch> {
  const own = batch === wanted.id;
  return checkBatch(await client.batch(batch, own ? asRevision(wanted) : {}));
}
