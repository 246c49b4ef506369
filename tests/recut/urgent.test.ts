/** Begun frames of a higher priority are finished before others are begun, by the wood of those where it must be. */
import { expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planned } from '../plan/kit.js';
import { BASE, recutOf } from './kit.js';

function order(urgent: number, later: number): BatchDocument {
  const { offers: _, ...base } = BASE;
  const frame = { moulding: 'ash', measuredBy: 'outside', width: 10 } as const;
  return {
    ...base,
    frames: [
      { ...frame, id: 'L', height: 20, priority: later },
      { ...frame, id: 'U', height: 21, priority: urgent },
    ],
    // 62 in for U and 60 for L, and 4 to spare.
    sticks: [{ id: 'r', moulding: 'ash', length: 126 }],
  };
}

it.each([
  [1, 2],
  // At equal priority what is begun comes first.
  [1, 1],
])('a frame begun, priority %d, takes the wood of one not begun, priority %d', async (urgent, later) => {
  const document = order(urgent, later);
  const plan = await planned(document);
  // Both rails of 21 in are cut and one is lost: 84 in are left for 41 of U and 60 of L.
  const made = await recutOf({ document, plan, lost: ['U/1/left'] }, 'U/1/left\nU/1/right');
  expect(made.shortfall.map(({ frames }) => frames)).toEqual([['L/1']]);
  const cut = made.mouldings.flatMap(({ sticks }) => sticks.flatMap(({ rails }) => rails));
  expect(cut.map(({ rail }) => rail).sort()).toEqual(['U/1/bottom', 'U/1/left', 'U/1/top']);
  expect(made.notices.filter(({ code }) => code === 'PS_SEARCH_ENDED')).toEqual([]);
});

it('gives up nothing that is wanted more', async () => {
  const document = order(2, 1);
  const plan = await planned(document);
  const made = await recutOf({ document, plan, lost: ['U/1/left'] }, 'U/1/left\nU/1/right');
  expect(made.shortfall.map(({ frames, rails }) => [frames, rails])).toEqual([[['U/1'], ['U/1/left']]]);
});
