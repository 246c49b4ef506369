/** Time the other mouldings did not need goes to those not yet proven: another round, from the plans they have. */
import { PairstopError } from '../errors.js';
import { leftOf, worthAnother } from '../run/share.js';
import { type BatchRun, mouldingsOf } from './add-parts.js';
import { figuresFrom } from './figures.js';
import type { Store } from './store.js';

const CHUNK = 250;

function number(value: Buffer | undefined): number {
  return value === undefined ? 0 : Number(value.toString());
}

/** Mouldings whose search was cut by its share of the time; null while any is still open. */
async function cutShort(store: Store, jobId: string): Promise<number[] | null> {
  const total = (await mouldingsOf(store, jobId)).length;
  const found: number[] = [];
  for (let from = 0; from < total; from += CHUNK) {
    const some = Array.from({ length: Math.min(CHUNK, total - from) }, (_, i) => from + i);
    const values = await store.read(
      jobId,
      ['r', 'e', 'q', 'a', 'u'].flatMap((letter) => some.map((i) => `${letter}:${i}`)),
    );
    for (const [nth, index] of some.entries()) {
      const at = (field: number): Buffer | undefined => values[field * some.length + nth];
      if (at(0) === undefined && at(1) === undefined) return null;
      const figures = figuresFrom(at(2)?.toString() ?? '');
      const [allotted, used] = [number(at(3)), number(at(4))];
      if (figures !== null && worthAnother(figures.proof, allotted, used)) found.push(index);
    }
  }
  return found;
}

/** Opens another round when there is time and a moulding to use it. Throws PS_CANCELLED where the batch has ended. */
export async function extendBatch(store: Store, { jobId, run, fence }: BatchRun): Promise<void> {
  const [limit, started, round] = await store.read(jobId, ['limit', 'started', 'round']);
  if (started === undefined) return;
  const open = await cutShort(store, jobId);
  if (open === null || open.length === 0) return;
  const left = leftOf(number(limit), (await store.now()) - number(started), number(round));
  if (left === 0) return;
  const outcome = await store.extend(jobId, run, fence, number(round), left, open);
  if (outcome === 'ended') throw new PairstopError('PS_CANCELLED', 'the batch has ended meanwhile');
}
