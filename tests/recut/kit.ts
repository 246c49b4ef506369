/** What the tests of recut share. */

import { expect } from 'vitest';
import { checkRecut } from '../../src/check/recut/recut.js';
import { findingText } from '../../src/check/report.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import type { Plan } from '../../src/documents/plan/types.js';
import { checkRecutDocument } from '../../src/documents/recut/read.js';
import type { Recut } from '../../src/documents/recut/types.js';
import { recut } from '../../src/recut/recut.js';
import { readTold, toldAs } from '../../src/recut/told-lines.js';
import { engine, now } from '../plan/kit.js';

export interface Mishap {
  readonly document: BatchDocument;
  readonly plan: Plan;
  readonly lost: readonly string[];
  readonly cut: ReadonlySet<string>;
}

interface RecutGiven extends Pick<Mishap, 'document' | 'lost'> {
  readonly plan: Plan | Recut;
  readonly flaws?: readonly string[];
  readonly reuse?: readonly string[];
}

/** A recut; whatever a test asks of it besides, it passes its check, alone and against what it was made of. */
export async function recutOf(
  { document, plan, lost, flaws = [], reuse = [] }: RecutGiven,
  told: string | null = null,
  clock = now,
): Promise<Recut> {
  const batch = checkBatch(document);
  const found = { flaws: toldAs('--flaw', flaws), reuse: toldAs('--reuse', reuse) };
  const request = { batch, plan, lost, told: told === null ? null : readTold(told), ...found };
  const made = recut(request, engine(), { now: clock, deadline: clock() + 1_500, seed: 1 });
  expect(checkRecut(batch, made).findings.map(findingText)).toEqual([]);
  expect(checkRecut(batch, checkRecutDocument(JSON.parse(JSON.stringify(made))), plan).findings).toEqual([]);
  return made;
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
