/** Keeping a shop in order: what is over is forgotten, refused jobs are cleared away, and who did what is told. */

import type { Queue } from 'bullmq';
import type { Redis } from 'ioredis';
import * as z from 'zod';
import { batchQueue, type Keys, URGENCIES } from '../names.js';
import type { BatchState } from '../record/steps.js';
import type { Store } from '../record/store.js';

export interface AuditEntry {
  /** Milliseconds since 1970, by Redis's clock. */
  readonly at: number;
  /** submitted, submitted again, revised, cancelled, purged; of the rack: `rack added` and its other changes. */
  readonly what: string;
  /** Empty for a change of the rack that is no batch's. */
  readonly batch: string;
  readonly run: number | null;
  /** The piece of a change of the rack that is about one. */
  readonly piece: string | null;
  readonly who: string;
}

type Fields = (name: string) => string;
type Look = (at: number, field: Fields) => AuditEntry | null;

/** Entries of a stream that `look` makes something of, newest first. */
async function newest(redis: Redis, stream: string, limit: number, look: Look): Promise<AuditEntry[]> {
  const found: AuditEntry[] = [];
  let end = '+';
  while (found.length < limit) {
    const some = await redis.xrevrange(stream, end, '-', 'COUNT', 1_000);
    for (const [id, pairs] of some) {
      const field = (name: string): string => {
        const at = pairs.indexOf(name);
        return at < 0 || at % 2 === 1 ? '' : (pairs[at + 1] ?? '');
      };
      const entry = look(Number(id.split('-')[0]), field);
      if (entry !== null) found.push(entry);
    }
    const last = some.at(-1)?.[0];
    if (some.length < 1_000 || last === undefined) break;
    end = `(${last}`;
  }
  return found.slice(0, limit);
}

const changeSchema = z.object({
  kind: z.string(),
  who: z.string(),
  batch: z.string().default(''),
  piece: z
    .union([z.string(), z.object({ id: z.string() }).transform(({ id }) => id)])
    .nullable()
    .default(null),
});

/** Who changed what of the rack. An entry that cannot be read is for `rack audit` to tell. */
const ofRack: Look = (at, field) => {
  try {
    const { data } = changeSchema.safeParse(JSON.parse(field('e')));
    if (data === undefined) return null;
    const { kind, ...rest } = data;
    return { at, what: `rack ${kind}`, run: null, ...rest };
  } catch {
    return null;
  }
};

const ofBatches: Look = (at, field) => {
  const run = field('run');
  const [what, batch, who] = [field('what'), field('batch'), field('who')];
  return { at, what, batch, run: run === '' ? null : Number(run), piece: null, who };
};

/** Of batches and rack together, newest first. */
export async function auditTrail(
  redis: Redis,
  keys: Keys,
  limit: number,
  batch?: string,
): Promise<AuditEntry[]> {
  const about =
    (look: Look): Look =>
    (at, field) => {
      const entry = look(at, field);
      return batch === undefined || entry?.batch === batch ? entry : null;
    };
  const all = [
    ...(await newest(redis, keys.audit, limit, about(ofBatches))),
    ...(await newest(redis, keys.rack.journal, limit, about(ofRack))),
  ];
  return all.sort((a, b) => b.at - a.at).slice(0, limit);
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
