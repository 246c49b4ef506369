/** Keeping a shop in order: what is over is forgotten, refused jobs are cleared away, and who did what is told. */

import type { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import { batchQueue, type Keys, URGENCIES } from '../names.js';
import type { BatchState } from '../record/steps.js';
import type { Store } from '../record/store.js';

export interface AuditEntry {
  /** Milliseconds since 1970, by Redis's clock. */
  readonly at: number;
  /** submitted, submitted again, cancelled, purged and what later versions add. */
  readonly what: string;
  readonly batch: string;
  readonly run: number | null;
  readonly who: string;
}

/** Newest first. */
export async function auditTrail(
  redis: Redis,
  keys: Keys,
  limit: number,
  batch?: string,
): Promise<AuditEntry[]> {
  const found: AuditEntry[] = [];
  let end = '+';
  while (found.length < limit) {
    const some = await redis.xrevrange(keys.audit, end, '-', 'COUNT', 1_000);
    for (const [id, pairs] of some) {
      const field = (name: string): string => {
        const at = pairs.indexOf(name);
        return at < 0 || at % 2 === 1 ? '' : (pairs[at + 1] ?? '');
      };
      if (batch !== undefined && field('batch') !== batch) continue;
      const run = field('run');
      found.push({
        at: Number(id.split('-')[0]),
        what: field('what'),
        batch: field('batch'),
        run: run === '' ? null : Number(run),
        who: field('who'),
      });
    }
    const last = some.at(-1)?.[0];
    if (some.length < 1_000 || last === undefined) break;
    end = `(${last}`;
  }
  return found.slice(0, limit);
}

export type Purged = 'purged' | 'unknown' | BatchState;

/** Forgets a batch that has ended, and its jobs. */
export async function purgeBatch(
  store: Store,
  queues: Readonly<Record<string, Queue>>,
  jobId: string,
  who: string,
): Promise<Purged> {
  const purged = await store.purge(jobId, who);
  if (purged !== 'purged') return purged;
  for (const urgency of URGENCIES) {
    const job = await queues[batchQueue(urgency)]?.getJob(jobId);
    await job?.remove({ removeChildren: true }).catch(() => {});
  }
  return purged;
}

const CLEARED_AT_ONCE = 1_000;

/** Removes failed jobs from the queues; what they left in the records stays. How many there were. */
export async function clearFailedJobs(queues: Readonly<Record<string, Queue>>): Promise<number> {
  let cleared = 0;
  for (const queue of Object.values(queues)) {
    for (;;) {
      const some = await queue.clean(0, CLEARED_AT_ONCE, 'failed');
      cleared += some.length;
      if (some.length < CLEARED_AT_ONCE) break;
    }
  }
  return cleared;
}
