/** A batch with a plan that holds, and what all of them share. */

import { readBatch } from '../../src/documents/batch/read.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { Batch } from '../../src/terms.js';

export interface Case {
  readonly batch: Batch;
  readonly plan: Plan;
}

export function read(document: object): Batch {
  return readBatch(JSON.stringify({ schema: 'pairstop/batch@1', ...document }));
}

/** k' = kerf / cos θ for 3 mm at 45°: 3·√2 = 4.2426…, up to the micrometre. */
export const K45 = 4.243;
