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
});
