/** What the tests of recut share. */

import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import type { Recut } from '../../src/documents/recut/types.js';
import { recut } from '../../src/recut/recut.js';
import { readTold } from '../../src/recut/told.js';
import { engine, now } from '../plan/kit.js';

export interface Mishap {
  readonly document: BatchDocument;
  readonly plan: Plan;
  readonly lost: readonly string[];
  readonly cut: ReadonlySet<string>;
}

export async function recutOf(
  { document, plan, lost }: Pick<Mishap, 'document' | 'lost'> & { readonly plan: Plan | Recut },
  told: string | null = null,
  clock = now,
): Promise<Recut> {
  const batch = checkBatch(document);
  const request = { batch, plan, lost, told: told === null ? null : readTold(told) };
  return recut(request, await engine(), { now: clock, deadline: clock() + 1_500, seed: 1 });
}

export const BASE: BatchDocument = {
  schema: 'pairstop/batch@1',
  id: 'mishap',
  units: 'in',
  saw: { kerf: 0, clampBelow: '6' },
  mouldings: [{ id: 'ash', face: 1, rabbet: 0, keepOver: 12 }],
  frames: [{ id: 'A', moulding: 'ash', quantity: 2, measuredBy: 'outside', width: 10, height: 20 }],
  // 120 in of rails and a stick of 140: 20 in are left behind them.
  sticks: [{ id: 'r', moulding: 'ash', length: 140 }],
  offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5 }],
};
