/** One impossible line does not stop the night: it is skipped and named, and the rest is planned as if it were not there. */
import { describe, expect, it } from 'vitest';
import { checkPlan } from '../../src/check/check.js';
import { checkBatch } from '../../src/documents/batch/read.js';
import { checkPlanDocument } from '../../src/documents/plan/read.js';
import { planBatchHere } from '../../src/plan/here.js';
import { showPlan } from '../../src/show/plan.js';
import type { Batch } from '../../src/terms.js';
import { engine, now } from './kit.js';

async function planBatch(one: Batch) {
  return planBatchHere(one, engine(), { now });
}

const RIGHT = [
  { id: 'A', moulding: 'ash', quantity: 3, width: 16, height: 20 },
  { id: 'C', moulding: 'ash', quantity: 2, width: 8, height: 10, match: 'pair' },
];
const WRONG = [
  { id: 'B', moulding: 'ash', quantity: 2, width: 300, height: 20 },
  { id: 'D', moulding: 'oak', width: 8, height: 10 },
];

function batch(frames: readonly object[], more: object = {}) {
  return checkBatch({
    schema: 'pairstop/batch@1',
    id: 'skip',
    units: 'in',
    mouldings: [
      { id: 'ash', face: 1, rabbet: '1/4' },
      { id: 'oak', face: 1, rabbet: '1/4' },
    ],
    frames,
    offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 17.5 }],
    options: { skipImpossible: true },
    ...more,
  });
}

describe('frames that nothing can hold', () => {
  it('are refused, unless the batch has them skipped', async () => {
    await expect(planBatch(batch([RIGHT[0]!, WRONG[0]!], { options: {} }))).rejects.toMatchObject({
      code: 'PS_BATCH',
      problems: [{ path: 'frames[1].width' }],
    });
  });

  it('are named with the reason, and the rest is planned as without them', async () => {
    const mixed = batch([RIGHT[0]!, WRONG[0]!, RIGHT[1]!, WRONG[1]!]);
    const plan = await planBatch(mixed);
    const alone = await planBatch(batch(RIGHT));
    expect(checkPlan(mixed, plan).findings).toEqual([]);
    expect(checkPlanDocument(JSON.parse(JSON.stringify(plan)))).toEqual(plan);
    expect(plan.status).toBe('short');
    expect(plan.mouldings.map(({ status }) => status)).toEqual(['short', 'short']);
    expect(plan.buy).toEqual(alone.buy);
    expect(plan.mouldings[0]!.proof).toEqual(alone.mouldings[0]!.proof);
    // 300 + 1/8 of play − 1/2 of rabbets + 2 of faces; 8 + 1/8 − 1/2 + 2, the longer of D's rails 11 5/8.
    expect(plan.shortfall).toEqual([
      {
        moulding: 'ash',
        frames: ['B/1', 'B/2'],
        needs: 301.625 * 25.4,
        cost: null,
        impossible: ['B/1', 'B/2'],
      },
      { moulding: 'oak', frames: ['D/1'], needs: 11.625 * 25.4, cost: null, impossible: ['D/1'] },
    ]);
    expect(plan.notices).toMatchObject([
      {
        code: 'PS_SKIPPED',
        path: 'frames[1].width',
        message: expect.stringContaining(
          '301 5/8" clear, of "ash"; the longest clear span of its sticks is 96"',
        ),
      },
      {
        code: 'PS_SKIPPED',
        path: 'frames[3].height',
        message: expect.stringContaining('there is no stick of it'),
      },
    ]);
    const page = showPlan(mixed, plan);
    expect(page).toContain('SKIPPED of ash: 2 frames that nothing can hold, B/1…2');
    expect(page).toContain('5 of 8 frames');
  });

  it('beside frames that stock is merely short for', async () => {
    const short = batch([...RIGHT, WRONG[0]!], {
      offers: [],
      sticks: [{ id: 'r', moulding: 'ash', length: "8'" }],
    });
    const plan = await planBatch(short);
    expect(checkPlan(short, plan).findings).toEqual([]);
    expect(plan.shortfall).toMatchObject([
      { frames: expect.arrayContaining(['A/2', 'A/3', 'B/1']), impossible: ['B/1', 'B/2'] },
    ]);
    expect(showPlan(short, plan)).toMatch(/SHORT of ash: [\s\S]*\nSKIPPED of ash/);
  });

  it('only such frames: nothing is cut, and that is no error', async () => {
    const plan = await planBatch(batch([WRONG[0]!]));
    expect(plan).toMatchObject({ status: 'short', totals: { sticks: 0 }, buy: [] });
  });
});
