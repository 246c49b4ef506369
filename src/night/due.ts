/** When a batch is needed. */

const DAY = 86_400_000;

/** Milliseconds since 1970; a date without a time is over at its end, by UTC. Infinity: not said. */
export function dueMoment(due: string | null): number {
  if (due === null) return Number.POSITIVE_INFINITY;
  const moment = Date.parse(due);
  return due.includes('T') ? moment : moment + DAY;
}
