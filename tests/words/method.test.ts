/** The method against the geometry: how a rail lies decides which way each end is cut, and what the stop touches. */
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { showPlan } from '../../src/show/plan.js';
import { planned } from '../plan/kit.js';

function document(reversible: boolean, more: Partial<BatchDocument> = {}): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'method',
    units: 'in',
    saw: { recut: '1/16' },
    mouldings: [{ id: 'ash', face: 1, rabbet: reversible ? 0 : '1/4', reversible, endTrim: '1/2' }],
    frames: [{ id: 'A', moulding: 'ash', quantity: 2, measuredBy: 'outside', width: 12, height: 16 }],
    offers: [{ id: 'ash-8', moulding: 'ash', length: "8'", price: 10 }],
    options: { timeLimit: 2 },
    ...more,
  };
}

async function page(batch: BatchDocument): Promise<string> {
  return showPlan(checkBatch(batch), await planned(batch)).replaceAll(/\s+/g, ' ');
}

describe('how it is cut', () => {
  it('swings the saw for profiled stock, outside edge at the fence', async () => {
    const text = await page(document(false));
    for (const words of [
      'outside edge against the fence, sight edge (the rabbet) towards you',
      'long point 1/2" in from the end',
      'Slide the long point, the corner at the fence, against the stop',
      'cut a fresh mitre 1/16" past the corner at the fence',
      'write the tag on the back of each rail before it leaves the saw',
    ]) {
      expect(text).toContain(words);
    }
    expect(text).not.toMatch(/roll|Two stops|Flaws:|saw at/);
  });

  it('rolls reversible stock over, and leaves the saw where it is', async () => {
    const text = await page(document(true));
    expect(text).toContain('the saw is not swung');
    expect(text).toContain('Roll the stick over');
    expect(text).not.toMatch(/swing the handle/);
  });

  it('names the angle at each setting, both stops and the flaws where there are any', async () => {
    const text = await page(
      document(false, {
        frames: [
          { id: 'A', moulding: 'ash', quantity: 1, width: 12, height: 16, match: 'frame' },
          { id: 'H', moulding: 'ash', quantity: 1, sides: 6, side: 7 },
        ],
        sticks: [{ id: 'r', moulding: 'ash', length: 90, flaws: [[40, 41]] }],
      }),
    );
    expect(text).toMatch(/on the swing-away stop, saw at 45°/);
    expect(text).toMatch(/\[ \] [\d /]+", saw at 30°/);
    expect(text).toMatch(/Two stops: .*Flaws: /);
  });

  it('gives every stick with the tags of its rails in order, parted at flaws, and what the marks mean', async () => {
    const batch = document(false);
    const plan = await planned(batch);
    const text = showPlan(checkBatch(batch), plan);
    for (const { stick, rails } of plan.mouldings[0]!.sticks) {
      const row = `  ${stick}  ${rails.map(({ tag }) => tag).join(' ')}`;
      expect(text.split('\n').filter((line) => line === row)).toEqual([row]);
    }
    expect(text).toContain('A1…A2 are A/1…2');
  });
});
