/** The batches of a night are read and put together. */
import { checkBatch, readBatchDocument } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import { compose, type PoolMember } from '../../night/compose.js';
import { BATCH_BYTES, LINES, RAILS } from '../../read/limits.js';
import { unseal } from '../seal.js';
import { summaryOf } from './summary.js';
import type { ComposedNight, ComposeTask } from './tasks.js';

/** Batches that cannot be read are left out, and told. */
export function composeIn({ id, further, zone, rails, members }: ComposeTask): ComposedNight {
  const damaged: { at: number; message: string }[] = [];
  const sound: { readonly at: number; readonly member: PoolMember }[] = [];
  for (const [at, { fingerprint, sealed }] of members.entries()) {
    try {
      const text = unseal({ kind: 'batch', batch: fingerprint, moulding: '' }, sealed, BATCH_BYTES);
      sound.push({ at, member: readBatchDocument(text) });
    } catch (error) {
      if (!(error instanceof PairstopError)) throw error;
      damaged.push({ at, message: error.message });
    }
  }
  const places = new Map(sound.map(({ at, member }) => [member.batch.id, at]));
  const composed = compose(
    sound.map(({ member }) => member),
    (index) => (index === 0 ? id : `${further}-${index + 1}`),
    zone,
    { rails: Math.min(rails, RAILS), lines: LINES },
  );
  const parts = composed.map(({ document, members: ids }) => ({
    summary: summaryOf({ document, batch: checkBatch(document), work: 'plan' }, null),
    members: ids.map((one) => places.get(one)!),
  }));
  return { parts, damaged };
}
