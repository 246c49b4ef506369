/** How a job ends other than well. */
import { DelayedError, type Job, UnrecoverableError } from 'bullmq';
import { PairstopError } from '../../errors.js';
import { failureOf } from '../record/figures.js';
import { within } from '../redis/waiting.js';

const REASON_KEPT = 1_000;
const HAND_BACK_MS = 1_500;
/** Long enough that the worker that hands it back is not the one to take it again. */
const HANDED_BACK_FOR_MS = 100;

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

export const CANCELLED = new PairstopError('PS_CANCELLED', 'the batch has been cancelled, or has ended');

/** Puts the job back without spending an attempt; bounded, since Redis may be away. */
export async function handBack(job: Job, token: string | undefined, until = 0): Promise<DelayedError> {
  const at = Math.max(until, Date.now() + HANDED_BACK_FOR_MS);
  try {
    await within(HAND_BACK_MS, 'handing a job back', job.moveToDelayed(at, token));
  } catch {
    // Its lock runs out, and another worker finds it.
  }
  return new DelayedError();
}
