/** Rack pieces with ends that are cut already: what they hold, reckoned by hand, and that the checker agrees. */
import { expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planned } from './kit.js';

type Ends = NonNullable<NonNullable<BatchDocument['sticks']>[number]['ends']>;

/** Four rails of 300 mm long point to long point, three joints of a 3 mm kerf at 45° (4.243 mm) and 1 mm recut: 1215.729. */
const NEEDED = 1_215.732;
const TRIM = 10;
const RECUT = 1;

function onPiece(length: number, ends?: Ends): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'ends',
    units: 'mm',
    saw: { kerf: 3, recut: RECUT, stopStep: 1 },
    mouldings: [{ id: 'ash', face: 20, rabbet: 0, endTrim: TRIM, keepOver: 300 }],
    frames: [{ id: 'A', moulding: 'ash', measuredBy: 'outside', width: 300, height: 300 }],
    sticks: [{ id: 'r1', moulding: 'ash', length, ...(ends === undefined ? {} : { ends }) }],
  };
}

it.each<[Ends | undefined, number]>([
  [undefined, 2 * TRIM],
  [['raw', 'raw'], 2 * TRIM],
  [['mitred', 'raw'], TRIM + RECUT],
  [['raw', 'sawn'], TRIM + RECUT],
  [['mitred', 'sawn'], 2 * RECUT],
])('a piece with ends %j loses %d mm of its length', async (ends, lost) => {
  const plan = await planned(onPiece(NEEDED + lost, ends));
  expect(plan.status).toBe('complete');
  expect((await planned(onPiece(NEEDED + lost - 0.01, ends))).status).toBe('short');
  // The same rails on the same piece, were its ends rough.
  const rough = checkPlan(checkBatch(onPiece(NEEDED + lost)), plan);
  expect(rough.findings.some(({ code }) => code === 'CHECK_TRIM')).toBe(lost < 2 * TRIM);
});
