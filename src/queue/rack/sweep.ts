/** Batches whose record has expired hold nothing: what they had reserved is free again, what they bought is not expected. */
import type { Logger } from 'pino';
import type { RackStore } from '../../rack/store/rack-store.js';
import { jobIdOf, type Keys } from '../names.js';

/** So many heartbeats apart: every minute. */
export const SWEEP_BEATS = 12;

/** Answers the batches that held something. Each is looked at again within Redis, in the step that frees its pieces. */
export async function releaseExpired(rack: RackStore, keys: Keys, log: Logger): Promise<readonly string[]> {
  const expired: string[] = [];
  for (const batch of await rack.holders()) {
    const freed = await rack.expire(batch, keys.record(jobIdOf(batch)), 'service');
    if (freed === null || freed === 0) continue;
    expired.push(batch);
    log.info({ batch: batch.slice(0, 200), freed }, 'an expired batch no longer holds pieces of the rack');
  }
  return expired;
}
