/** The rack as a table, as spreadsheets of many countries write it. */
import { describe, expect, it } from 'vitest';
import { readCountCsv, readRackCsv } from '../../src/documents/rack/csv.js';
import { PairstopError } from '../../src/errors.js';

/** What a spreadsheet of western Windows writes: a semicolon, a decimal comma, its old code page. */
function windows(lines: readonly string[]): Uint8Array {
  return Buffer.from(lines.map((line) => `${line}\r\n`).join(''), 'latin1');
}

function refusal(read: () => unknown): string {
  try {
    read();
  } catch (error) {
    if (error instanceof PairstopError) return error.message;
    throw error;
  }
  throw new Error('nothing was refused');
}

describe('a table of the rack', () => {
  it('may have decimal commas where cells stand between semicolons', () => {
    const bytes = windows([
      'id;moulding;length (mm);flaws;value;place',
      'R-1;Esche weiß;1750,5;20,5 to 40,5 mm;4,50;Gestell ö',
      'R-2;Esche weiß;1,75 m;;;',
      'R-3;Esche weiß;12 3/8 in;;3;',
    ]);
    const { rows, units } = readRackCsv('rack.csv', bytes, 'in');
    expect(units).toBe('mm');
    expect(
      rows.map(({ moulding, length, flaws, value, place }) => [moulding, length, flaws, value, place]),
    ).toEqual([
      ['Esche weiß', 1_750_500, [[20_500, 40_500]], 450, 'Gestell ö'],
      ['Esche weiß', 1_750_000, [], null, null],
      ['Esche weiß', 314_325, [], 300, null],
    ]);
    const counted = readCountCsv('count.csv', windows(['id;length', 'R-1;1,74 m']), 'in');
    expect(counted).toEqual([{ id: 'R-1', length: 1_740_000 }]);
  });

  it('says where a comma could mean either, or cannot be a decimal sign', () => {
    const either = windows(['id;moulding;length (mm)', 'R-1;ash;1,750']);
    expect(refusal(() => readRackCsv('rack.csv', either, 'in'))).toContain(
      'rack.csv line 2, length: given "1,750"; allowed: "1.750" or "1750": this comma could mean either',
    );
    const between = Buffer.from('id,moulding,length (mm)\nR-1,ash,"1750,5"\n');
    expect(refusal(() => readRackCsv('rack.csv', between, 'in'))).toContain('write "1750.5"');
    expect(refusal(() => readCountCsv('count.csv', windows(['id;length', 'R-1;1,750']), 'in'))).toContain(
      'count.csv line 2, length: given "1,750"',
    );
  });

  it('says what a length may be in the units of its column', () => {
    const long = windows(['id;moulding;length (mm)', 'R-1;ash;long']);
    expect(refusal(() => readRackCsv('rack.csv', long, 'in'))).toContain('"405.5"');
  });

  it('takes the units of its columns as an order does, each column its own', () => {
    const bytes = windows([
      'id;moulding;length (cm);flaws (mm)',
      'R-1;ash;141,5;"200 to 235,5; 40 in to 41 in"',
      'R-2;ash;60 in;',
    ]);
    const { rows, units } = readRackCsv('rack.csv', bytes, 'in');
    expect(rows.map(({ length, flaws }) => [length, flaws])).toEqual([
      [
        1_415_000,
        [
          [200_000, 235_500],
          [1_016_000, 1_041_400],
        ],
      ],
      [1_524_000, []],
    ]);
    expect(units).toBe('in');
    const feet = Buffer.from('id,moulding,length (ft),flaws\nR-1,ash,8,1 to 1 1/2\n');
    expect(readRackCsv('rack.csv', feet, 'mm').rows[0]).toMatchObject({
      length: 2_438_400,
      flaws: [[304_800, 457_200]],
    });
    expect(readCountCsv('count.csv', windows(['id;length (m)', 'R-1;1,74']), 'in')).toEqual([
      { id: 'R-1', length: 1_740_000 },
    ]);
    // A flaw that fell into a cell of its own was dropped without a word.
    const torn = windows(['id;moulding;length (cm);flaws (mm)', 'R-1;ash;141,5;200 to 235; 400 to 410']);
    expect(refusal(() => readRackCsv('rack.csv', torn, 'in'))).toContain('nothing in cell 5');
    expect(refusal(() => readCountCsv('count.csv', windows(['id', 'R-1;60']), 'in'))).toContain('cell 2');
    const unknown = windows(['id;moulding;span (cm)', 'R-1;ash;1']);
    expect(refusal(() => readRackCsv('rack.csv', unknown, 'in'))).toContain('as in "length (mm)"');
  });
});
