/**
 * How long planning is likely to take, before it has begun: what the queue needs to let small orders through. A guess
 * that is wrong costs waiting time, nothing else.
 */
import type { Batch } from '../terms.js';
import type { ExpectedTimes, WorkKind } from './solver/tasks.js';

/** Milliseconds a moulding takes that is proven by its quick bounds, and a rail of it; measured, see DEVELOPERS.md. */
const MOULDING_MS = 40;
const RAIL_MS = 0.05;
const RAILS = 4;
/** From so many order lines of one moulding on, the search may take all the time there is. */
const MANY_LINES = 100;
/** A batch expected to take no longer is small: it need not wait until a long solve ends. */
export const SMALL_MS = 2_000;

/** `solving`: milliseconds of the time limit that may go to solving. */
export function expectedTimes(
  { frames, labour }: Pick<Batch, 'frames' | 'labour'>,
  work: WorkKind,
  mouldings: readonly string[],
  solving: number,
): ExpectedTimes {
  const sizes = new Map<string, { lines: number; rails: number }>();
  for (const { moulding, quantity } of frames) {
    const { lines, rails } = sizes.get(moulding) ?? { lines: 0, rails: 0 };
    sizes.set(moulding, { lines: lines + 1, rails: rails + RAILS * quantity });
  }
  const found = mouldings.map((moulding) => sizes.get(moulding) ?? { lines: 0, rails: 0 });
  const bySize = found.map(({ rails }) => Math.min(solving, Math.round(MOULDING_MS + RAIL_MS * rails)));
  const many = found.map(({ lines }) => lines >= MANY_LINES);
  // With a rate nearly every search goes on to its limit, but what it finds early is nearly as good.
  const limited = work === 'compare' || labour.rate !== null;
  return {
    each: bySize.map((size, i) => (limited || many[i] ? solving : size)),
    small: work === 'plan' && !many.includes(true) && bySize.reduce((a, b) => a + b, 0) <= SMALL_MS,
  };
}
