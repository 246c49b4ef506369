/** How a job ends other than well. */
import { DelayedError, type Job, UnrecoverableError, WaitingError } from 'bullmq';
import { PairstopError } from '../../errors.js';
import { JOB_SCHEMA } from '../../processes/envelope.js';
import { failureOf } from '../record/figures.js';
import { within } from '../redis/waiting.js';
import { payloadOf } from './raw-worker.js';
import type { Service } from './service.js';

const REASON_KEPT = 1_000;
const HAND_BACK_MS = 1_500;

/** The reason as BullMQ keeps it: a catalogued code first. */
export function reasonOf(error: unknown): string {
  const { code, message } = failureOf(error);
  return `${code}: ${message}`.slice(0, REASON_KEPT);
}

/** Fails the job for good, whatever attempts it has left. */
export function giveUp(error: unknown): UnrecoverableError {
  return new UnrecoverableError(reasonOf(error));
}

/** Fails this attempt; the queue repeats it while there are attempts left. */
export function failAttempt(error: unknown): Error {
  return new Error(reasonOf(error));
}

export function isCancelled(error: unknown): boolean {
  return error instanceof PairstopError && error.code === 'PS_CANCELLED';
}

const STRIP_FROM = 1_000;

/** A job that is refused or over stops carrying its batch: a refused one of 89 MB would lie in Redis for ever. */
export async function stripJob({ store }: Service, job: Job, code: string): Promise<void> {
  if (payloadOf(job).length < STRIP_FROM) return;
  const key = `${job.queueQualifiedName}:${job.id ?? ''}`;
  const stripping = store.strip(key, { schema: JOB_SCHEMA, refused: code });
  await within(HAND_BACK_MS, 'stripping a job', stripping).catch(() => {});
}

export const CANCELLED = new PairstopError('PS_CANCELLED', 'the batch has been cancelled, or has ended');

/** Puts the job back at the head of its queue, without spending an attempt; bounded, since Redis may be away. */
export async function handBack(job: Job, token: string | undefined): Promise<WaitingError> {
  try {
    await within(HAND_BACK_MS, 'handing a job back', job.moveToWait(token));
  } catch {
    // Its lock runs out, and another worker finds it.
  }
  return new WaitingError();
}

/** Puts the job off until a moment by Redis's clock, in milliseconds since 1970. */
export async function putOff(job: Job, token: string | undefined, until: number): Promise<DelayedError> {
  try {
    await within(HAND_BACK_MS, 'putting a job off', job.moveToDelayed(until, token));
  } catch {
    // Its lock runs out, and another worker puts it off.
  }
  return new DelayedError();
}
