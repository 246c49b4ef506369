/**
 * How the time of a batch is shared among its mouldings. Solving time counts, not waiting time, so a batch that
 * shares the workers with others still gets what it was promised.
 */

export interface Shared {
  /** Milliseconds of solving for the whole batch. */
  readonly limit: number;
  /** Milliseconds of solving so far, summed over the mouldings, those being solved now included. */
  readonly spent: number;
  /** Mouldings not yet begun, the one that asks included. */
  readonly waiting: number;
  /** Mouldings that can be solved at once. */
  readonly slots: number;
}

/**
 * Milliseconds for the next moulding. With all slots busy, `spent / slots` is the time passed; what is left is
 * divided by the rounds still to come, so the last round ends at the limit.
 */
export function nextShare({ limit, spent, waiting, slots }: Shared): number {
  const together = Math.max(1, slots);
  const left = Math.max(0, limit - spent / together);
  return left / Math.max(1, Math.ceil(waiting / together));
}
