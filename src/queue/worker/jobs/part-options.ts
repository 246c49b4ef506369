/** A moulding's job as it is put on its queue. */
import type { JobsOptions } from 'bullmq';
import type { PART_SCHEMA } from '../../names.js';
import type { WorkerSettings } from '../../settings.js';

const SECOND = 1_000;

export interface PartPayload {
  readonly schema: typeof PART_SCHEMA;
  /** Job id of the batch. */
  readonly batch: string;
  readonly run: number;
  readonly fingerprint: string;
  readonly index: number;
  readonly moulding: string;
  /** Of the whole batch, where it is so large that not every worker can hold it. */
  readonly rails?: number | undefined;
}

/** `parent`: the batch's job and its queue by its full name. `priority` null: first come, first served. */
export function partOptions(
  { retention, attempts, timing }: Pick<WorkerSettings, 'retention' | 'attempts' | 'timing'>,
  jobId: string,
  parent: { readonly id: string; readonly queue: string },
  priority: number | null,
): JobsOptions {
  return {
    jobId,
    parent: { ...parent },
    attempts,
    backoff: { type: 'fixed', delay: timing.backoff },
    ignoreDependencyOnFailure: true,
    removeOnComplete: true,
    removeOnFail: { age: Math.round(retention / SECOND) },
    stackTraceLimit: 1,
    ...(priority === null ? {} : { priority }),
  };
}
