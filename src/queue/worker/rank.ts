/**
 * In what order mouldings are taken: each at the moment by which it would be done on an idle service, counted from the
 * arrival of its batch. So batches share the slots, less work comes first, and nothing waits for ever: what arrives
 * after that moment never goes before it. BullMQ's priorities are whole numbers up to 2^21, the least first; counted in
 * seconds from when nothing was open last, they last for 24 days without a quiet moment, and then are first come, first
 * served.
 */
import type { Overview } from './overview.js';

const RANK_MOST = 2 ** 21;
const SECOND = 1_000;

/**
 * Priorities for BullMQ, for each of the mouldings at `open`, an index into the overview's. `from`: what they are counted from; `now`:
 * milliseconds since 1970, like it.
 */
export function ranksOf(
  { limit, arrived, expected }: Pick<Overview, 'limit' | 'arrived' | 'expected'>,
  open: readonly number[],
  { from, now, slots }: { readonly from: number; readonly now: number; readonly slots: number },
): number[] {
  const times = open.map((index) => expected?.each[index] ?? limit / open.length);
  const all = times.reduce((a, b) => a + b, 0) / slots;
  // Its time limit is that of the whole batch.
  const scale = all > limit ? limit / all : 1;
  let done = arrived ?? now;
  return times.map((time) => {
    done += (scale * time) / slots;
    return rankAt(done, from);
  });
}

/** The priority of what would be done by this moment. Both in milliseconds since 1970. */
export function rankAt(moment: number, from: number): number {
  return Math.min(RANK_MOST, Math.max(1, Math.ceil((moment - from) / SECOND)));
}
