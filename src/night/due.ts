/** When a batch is needed. */
import { momentOf } from './wall.js';

const DAY = 86_400_000;

/**
 * Milliseconds since 1970; a date without a time is over at the end of that day in the shop's zone (an IANA name).
 * Infinity: not said.
 */
export function dueMoment(due: string | null, zone: string): number {
  if (due === null) return Number.POSITIVE_INFINITY;
  const moment = Date.parse(due);
  return due.includes('T') ? moment : momentOf(moment + DAY, zone);
}
