/** The whole job against worked values from outside, and against the footage of the trade. */
import { describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { planned } from '../plan/kit.js';

/**
 * Three 8×10 in and two 16×20 in glasses, face 1 1/2, rabbet 0, play 1/8: rails 11.125×6 13.125×6 19.125×4 23.125×4;
 * kerf 1/8 at 45°, no recut, no trim. Optima from two independent MIP solvers over all patterns.
 */
function example(offers: BatchDocument['offers']): BatchDocument {
  return {
    schema: 'pairstop/batch@1',
    id: 'worked-12',
    units: 'in',
    saw: { kerf: '1/8', recut: 0 },
    mouldings: [{ id: 'm', face: '1 1/2', rabbet: 0 }],
    frames: [
      { id: 'small', moulding: 'm', quantity: 3, width: 8, height: 10, play: '1/8' },
      { id: 'large', moulding: 'm', quantity: 2, width: 16, height: 20, play: '1/8' },
    ],
    offers,
  };
}

function offer(length: number, price: number, available?: number) {
  const limit = available === undefined ? {} : { available };
  return { id: `o${length}`, moulding: 'm', length, price, ...limit };
}

describe('worked example of five frames', () => {
  it('cuts the rails it should', async () => {
    const plan = await planned(example([offer(96, 1)]));
    const lengths = plan.mouldings[0]!.sticks.flatMap((stick) => stick.rails).map((rail) => rail.length);
    const count = (inches: number): number => lengths.filter((mm) => mm === inches * 25.4).length;
    expect([11.125, 13.125, 19.125, 23.125].map(count)).toEqual([6, 6, 4, 4]);
  });

  it.each([
    ['four sticks of 96', [offer(96, 1)], 4],
    ['72@12, 96@15, 120@19', [offer(72, 12), offer(96, 15), offer(120, 19)], 53],
    ['120 limited to one', [offer(72, 12), offer(96, 15), offer(120, 19, 1)], 54],
    ['96 and 120 limited to one each', [offer(72, 12), offer(96, 15, 1), offer(120, 19, 1)], 55],
  ])('%s', async (_, offers, cost) => {
    const plan = await planned(example(offers));
    expect(plan.totals.cost).toBe(cost);
    expect(plan.mouldings[0]!.proof).toMatchObject({ status: 'optimal', value: cost, bound: cost });
  });

  it('reckons packs and price breaks into the cost', async () => {
    const packs = await planned(example([{ id: 'o', moulding: 'm', length: 96, price: 10, pack: 3 }]));
    expect(packs.buy).toEqual([{ moulding: 'm', offer: 'o', count: 6, cost: 60 }]);
    expect(packs.notices.map((notice) => notice.code)).toContain('PS_SPARE_PIECES');
    const breaks = [{ from: 5, price: 7 }];
    const cheaper = await planned(example([{ id: 'o', moulding: 'm', length: 96, price: 10, breaks }]));
    expect(cheaper.buy).toEqual([{ moulding: 'm', offer: 'o', count: 5, cost: 35 }]);
  });
});

describe('lengths on the sticks', () => {
  // Suppliers' footage rule, no rabbet and no play: 2(w + h) + 8·face a frame; 305×407 mm with face 66 → 1952 mm.
  it('adds up to the footage of the trade', async () => {
    const plan = await planned({
      schema: 'pairstop/batch@1',
      id: 'footage',
      units: 'mm',
      mouldings: [{ id: 'm', face: 66, rabbet: 0 }],
      frames: [{ id: 'f', moulding: 'm', quantity: 3, width: 305, height: 407, play: 0 }],
      offers: [{ id: 'o', moulding: 'm', length: 3000 }],
    });
    expect(plan.totals.railLength).toBe(3 * 1952);
    expect(plan.totals.cuts).toBe(2 * 12);
  });

  // Geometry: a row of n nested rails takes n+1 cuts, and its wood is Σ (L − F) at 45°.
  it('counts nested rails along their middle line', async () => {
    const plan = await planned({
      schema: 'pairstop/batch@1',
      id: 'nested',
      units: 'mm',
      saw: { kerf: 0 },
      mouldings: [{ id: 'm', face: 50, rabbet: 0, reversible: true }],
      frames: [{ id: 'f', moulding: 'm', measuredBy: 'outside', width: 300, height: 300 }],
      offers: [{ id: 'o', moulding: 'm', length: 1050 }],
    });
    expect(plan.totals).toMatchObject({ sticks: 1, railLength: 4 * 250, cuts: 5, wasteLength: 50 });
    const rails = plan.mouldings[0]!.sticks[0]!.rails;
    expect(rails.map((rail) => [rail.start, rail.flipped])).toEqual([
      [0, false],
      [250, true],
      [500, false],
      [750, true],
    ]);
  });
});
