/** A pooled plan that holds, worked out by hand: two frames of two batches, and what each would cost alone. */
import type { PlannedBatch } from '../../src/documents/plan/pooled.js';
import { moulding, pair, planOf, remainder, row, stick, stop } from './spoil-build.js';
import { type Case, read } from './spoil-case.js';

/** Four rails of 900 each: alone six sticks of two packs for 60, together twelve at the price for twelve, 84. */
export function pool(): Case {
  const frame = { moulding: 'ivy', measuredBy: 'outside', width: 900, height: 900 };
  const batch = read({
    id: 'pool',
    units: 'mm',
    saw: { kerf: 0 },
    mouldings: [{ id: 'ivy', face: 30, rabbet: 0 }],
    frames: [
      { id: 'a/U', ...frame },
      { id: 'b/U', ...frame },
    ],
    offers: [
      { id: 'o', moulding: 'ivy', length: 1000, price: 10, pack: 3, breaks: [{ from: 12, price: 7 }] },
    ],
    batches: [
      { id: 'a', due: '2026-12-01', lines: [{ frame: 'a/U', line: 'U' }] },
      { id: 'b', lines: [{ frame: 'b/U', line: 'U' }] },
    ],
  });
  const names = ['a/U/1', 'b/U/1'].flatMap((id) =>
    ['top', 'bottom', 'left', 'right'].map((side) => `${id}/${side}`),
  );
  const ivy = moulding(
    'ivy',
    { status: 'optimal', measure: 'cost', value: 84, bound: 84 },
    names.map((name, i) =>
      stick(`o/${i + 1}`, 'offer', 1000, row(0, 0, [[name, 900]]), [remainder(900, 1000, 'waste')]),
    ),
    [
      stop(
        900,
        ['a/U/1', 'b/U/1'].flatMap((id) => [
          pair(`${id}/top`, `${id}/bottom`),
          pair(`${id}/left`, `${id}/right`),
        ]),
      ),
    ],
  );
  const buy = [{ moulding: 'ivy', offer: 'o', count: 12, cost: 84 }];
  const alone = { cost: 60, bound: 60, sticks: 4, stockLength: 4000 };
  const own = (id: string): Omit<PlannedBatch, 'due'> => ({
    batch: id,
    lines: [{ frame: `${id}/U`, line: 'U' }],
    frames: 1,
    made: 1,
    missing: [],
    late: false,
    railLength: 3600,
    share: 42,
    alone: { cost: 60, bound: 60 },
    saved: { value: 18, least: 18 },
    mouldings: [
      {
        moulding: 'ivy',
        frames: 1,
        made: 1,
        railLength: 3600,
        share: 42,
        limit: 60,
        alone: { ...alone, made: 1 },
      },
    ],
  });
  const both = { cost: 120, bound: 120, sticks: 8, stockLength: 8000 };
  const saved = { value: 36, least: 36 };
  return {
    batch,
    plan: {
      ...planOf('pool', 'mm', [ivy], buy, { railLength: 7200, stopSettings: 1, cuts: 16 }),
      batches: [{ ...own('a'), due: '2026-12-01' }, own('b')],
      pooling: {
        cost: 84,
        alone: both,
        saved,
        mouldings: [
          {
            moulding: 'ivy',
            cost: 84,
            rule: 'length',
            core: 'within',
            checked: 'all',
            coalitions: [],
            alone: both,
            saved,
          },
        ],
      },
    },
  };
}
