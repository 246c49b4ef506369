import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { LIST_KINDS, listsOf } from '../../src/sheet/lists/lists.js';
import { listCsv, listsJson } from '../../src/sheet/lists/write.js';
import { DEMO_BATCH, DEMO_PLAN, HOSTILE, hostileBatch, hostilePlan } from './kit.js';

const batch = checkBatch(DEMO_BATCH);
const lists = listsOf(batch, DEMO_PLAN);

function rowsOf(kind: (typeof LIST_KINDS)[number]): readonly Readonly<Record<string, string>>[] {
  return parse(listCsv(lists[kind], batch.units), { columns: true, bom: true });
}

describe('the lists', () => {
  it('give glass, sight and outside sizes by the trade’s formulas, worked out by hand', () => {
    // glass 16 x 20; face 1 1/4, rabbet 1/4, play 1/8: outside 16 + 1/8 - 1/2 + 2 1/2 = 18 1/8.
    expect(rowsOf('glass')[0]).toEqual({
      frame: 'A-101',
      quantity: '10',
      shape: 'rectangle',
      'width or side (in)': '16',
      'height (in)': '20',
    });
    expect(rowsOf('sizes')[0]).toMatchObject({
      'outside width or side (in)': '18.125',
      'sight width or side (in)': '15.625',
      'rabbet height (in)': '20.125',
    });
    // W-303: sight side 8, rabbet 3/8, play 1/8, hexagon: glass side 8 + (3/4 - 1/8)·tan 30° = 8.3608, down to 8 11/32.
    expect(rowsOf('glass').find(({ frame }) => frame === 'W-303')).toMatchObject({
      quantity: '3',
      'width or side (in)': '8.34375',
      'height (in)': '',
    });
    // Flat stock without a rabbet holds no glass unless its size is the glass's.
    expect(rowsOf('glass').some(({ frame }) => frame?.startsWith('P-'))).toBe(false);
  });

  it('name every frame with its rails, every cut, and all that is bought', () => {
    expect(rowsOf('joining')[2]).toEqual({
      frame: 'A-101/3',
      mark: 'A3',
      mitre: '45',
      rails: 'A3T A3R A3B A3L',
    });
    expect(rowsOf('joining').length).toBe(60);
    // Each frame's four rails stand together, in the order of the batch.
    const rails = rowsOf('rails');
    expect(new Set(rails.slice(0, 4).map(({ rail }) => rail))).toEqual(
      new Set(['top', 'right', 'bottom', 'left'].map((side) => `A-101/1/${side}`)),
    );
    expect(rails[0]).toMatchObject({ frame: 'A-101/1', moulding: 'ash-cap', mitre: '45' });
    expect(new Set(rails.map(({ tag }) => tag)).size).toBe(246);
    const cuts = rowsOf('cutting');
    expect(cuts.length).toBe(246);
    expect(new Set(cuts.map(({ tag }) => tag)).size).toBe(246);
    expect(rowsOf('buy').map(({ offer, count, cost }) => [offer, count, cost])).toEqual(
      DEMO_PLAN.buy.map(({ offer, count, cost }) => [offer, String(count), cost.toFixed(2)]),
    );
  });

  it('go supplier by supplier', async () => {
    const { buy } = listsOf(checkBatch(hostileBatch()), await hostilePlan());
    const suppliers = buy.rows.map(([supplier]) => String(supplier));
    expect(suppliers.length).toBeGreaterThan(0);
    expect(suppliers).toEqual(suppliers.toSorted((a, b) => HOSTILE.indexOf(a) - HOSTILE.indexOf(b)));
  });

  it('are one JSON document too, in millimetres', () => {
    const document = JSON.parse(listsJson(batch.id, batch.units, lists)) as Record<string, unknown>;
    expect(document).toMatchObject({ schema: 'pairstop/lists@1', batch: 'lakeside-spring', units: 'in' });
    expect(Object.keys(document)).toEqual(['schema', 'batch', 'units', ...LIST_KINDS]);
    expect(document.glass).toContainEqual({
      frame: 'A-102',
      quantity: 8,
      shape: 'rectangle',
      widthOrSide: 279.4,
      height: 355.6,
    });
  });

  it('leave a spreadsheet no formula', async () => {
    const made = listsOf(checkBatch(hostileBatch()), await hostilePlan());
    for (const kind of LIST_KINDS) {
      const cells: readonly string[][] = parse(listCsv(made[kind], 'mm'), { bom: true });
      expect(cells.flat().filter((cell) => /^[=+@\t\r]|^-\D/.test(cell))).toEqual([]);
    }
  });
});
