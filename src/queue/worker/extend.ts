/** What the turns of a batch are for, round after round: time that some did not need goes to the others. */
import { PairstopError } from '../../errors.js';
import { firstRound, nextRound, worthAnother } from '../../processes/share.js';
import { workOf } from '../names.js';
import type { Store } from '../record/store.js';
import type { BatchAttempt } from './jobs/add-parts.js';
import type { Overview } from './overview.js';

const OVER = 'the batch has ended meanwhile';

/** Before any turn: whether the wood comes first. One begun anew stays with what it was begun with. */
async function begin(store: Store, batch: BatchAttempt, overview: Overview, slots: number): Promise<void> {
  const { limit, mouldings, phase, woodFirst } = overview;
  if (!woodFirst || phase === 'runs') return;
  const count = mouldings.filter(({ final }) => !final).length;
  const first = firstRound(limit, count, Math.min(slots, count), true);
  const round = phase === 'wood' ? { ...first, phase } : first;
  if (round.phase === 'all') return;
  const outcome = await store.first(batch.jobId, batch.run, batch.fence, round);
  if (outcome === 'ended') throw new PairstopError('PS_CANCELLED', OVER);
}

/** Indices of the mouldings to go on with; none while any is still open. Throws PS_CANCELLED where the batch has ended. */
export async function extendBatch(
  store: Store,
  batch: BatchAttempt,
  overview: Overview,
  slots: number,
): Promise<readonly number[]> {
  const { limit, started, round, mouldings, phase } = overview;
  // A comparison is made in one go: another round would begin it anew.
  if (workOf(batch.jobId) !== 'plan') return [];
  if (started === null) {
    await begin(store, batch, overview, slots);
    return [];
  }
  if (mouldings.some(({ final, failed }) => !final && !failed)) return [];
  const planned = [...mouldings.keys()].filter(
    (index) => !mouldings[index]!.failed && mouldings[index]!.figures !== null,
  );
  const open = planned.filter((index) => {
    const { figures, allotted, used } = mouldings[index]!;
    return worthAnother(figures!.proof, allotted, used);
  });
  const full = planned.filter((index) => mouldings[index]!.figures!.overfull === true);
  const passed = (await store.now()) - started;
  const sofar = { all: limit, passed, rounds: round, open: open.length, overfull: full.length };
  const next = nextRound(phase, sofar);
  if (next === null) return [];
  const again = phase === 'runs' ? full : planned;
  const indices = next.phase === 'runs' ? again : open;
  const outcome = await store.extend(batch.jobId, batch.run, batch.fence, round, next, indices);
  if (outcome === 'ended') throw new PairstopError('PS_CANCELLED', OVER);
  return indices;
}
