/** What a pooled plan tells the shop beside its figures. */
import type { PlannedBatch } from '../documents/plan/pooled.js';
import { type Notice, notice } from '../notices.js';
import type { Batch } from '../terms.js';

export function apartNotices({ batches }: Batch): readonly Notice[] {
  return batches.flatMap(({ id, apart }, at) =>
    apart.map(({ why, moulding, from }) => {
      const what =
        moulding === null
          ? why
          : `"${from ?? moulding}" is planned apart, as "${moulding}", since ${why} from what others of the night say`;
      return notice('PS_APART', `batches[${at}]`, `batch "${id}": ${what}`);
    }),
  );
}

export function lateBy(path: string, batch: string, due: string, missing: number, frames: number): Notice {
  const what = `${missing} of ${frames} frames are not made, since stock is short`;
  return notice('PS_LATE', path, `batch "${batch}", needed by ${due}, will be late: ${what}`);
}

export function lateNotice(
  { batch, due, late, missing, frames }: PlannedBatch,
  at: number,
): readonly Notice[] {
  return late ? [lateBy(`batches[${at}]`, batch, due ?? '', missing.length, frames)] : [];
}
