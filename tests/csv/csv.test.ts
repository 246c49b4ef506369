/** CSV in and out: RFC 4180, and what spreadsheets make of it. */
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readCsv } from '../../src/csv/read.js';
import { csvText } from '../../src/csv/write.js';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

function table(text: string | Uint8Array) {
  const { separator, tables } = readCsv('f.csv', typeof text === 'string' ? bytes(text) : text);
  return { separator, header: tables[0]!.header, rows: tables[0]!.rows, tables };
}

describe('a CSV file is read', () => {
  // RFC 4180, section 2, rules 1 to 7, by its own examples.
  it.each([
    ['line ends', 'aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n', [['zzz', 'yyy', 'xxx']]],
    ['no line end at the last', 'aaa,bbb,ccc\r\nzzz,yyy,xxx', [['zzz', 'yyy', 'xxx']]],
    ['quoted cells', 'a,b,c\r\n"aaa","bbb","ccc"\r\n', [['aaa', 'bbb', 'ccc']]],
    ['a line end in a cell', 'a,b,c\r\n"aaa","b\r\nbb","ccc"\r\n', [['aaa', 'b\nbb', 'ccc']]],
    ['a quotation mark in a cell', 'a,b,c\r\n"aaa","b""bb","ccc"\r\n', [['aaa', 'b"bb', 'ccc']]],
  ])('%s', (_, text, rows) => {
    expect(table(text).rows.map(({ cells }) => cells)).toEqual(rows);
  });

  it.each([
    ['comma', 'id,width\nA,3\n', ','],
    ['semicolon', 'id;width\nA;3,5\n', ';'],
    ['tab', 'id\twidth\nA\t3,5\n', '\t'],
    ['said in the first line', 'sep=;\r\nid;width\r\nA;3,5', ';'],
    ['of a header with a comma in quotes', '"id, or name";width\nA;3', ';'],
  ])('its separator: %s', (_, text, separator) => {
    expect(table(text).separator).toBe(separator);
    expect(table(text).rows[0]!.cells).toHaveLength(2);
  });

  it('in every encoding that spreadsheets write', () => {
    const text = 'id;width\r\nWeiß;3\r\n';
    const utf16 = Buffer.from(`\uFEFF${text}`, 'utf16le');
    const western = Buffer.from(text, 'latin1');
    for (const one of [bytes(text), bytes(`\uFEFF${text}`), utf16, western]) {
      expect(table(one).header.cells).toEqual(['id', 'width']);
      expect(table(one).rows[0]!.cells).toEqual(['Weiß', '3']);
    }
  });

  it('with remarks, empty rows and sections, each row with its line', () => {
    const text =
      '# what is "ordered, \n[frames];;\nid;width;height\n;;\n"A\nb";1;2\n\nC;16 3/8";2\n[ Rack ];;\nid;length\n';
    const { tables } = table(text);
    expect(tables.map(({ section }) => section)).toEqual(['frames', 'rack']);
    expect(tables[0]!.header.line).toBe(3);
    expect(tables[0]!.rows).toEqual([
      { line: 5, cells: ['A\nb', '1', '2'] },
      { line: 8, cells: ['C', '16 3/8"', '2'] },
    ]);
    expect(tables[1]!.header.line).toBe(10);
  });

  it('and an order line whose id begins with # is none the less one', () => {
    expect(table('id,width\n#12,3\n').rows[0]!.cells[0]).toBe('#12');
  });

  // What looks for units and spans takes the square of these: 100,000 brackets kept a thread for half a minute.
  it.each([
    ['a column name', `id,${'['.repeat(201)}\nA,1`, /line 1.*at most 200 characters/s],
    ['blanks in a cell', `id,flaws\nA,1${' '.repeat(200)}to 2`, /line 2.*200 blanks/s],
    ['what looks like a section', `[a${' '.repeat(90_000)}b\nA,1`, /line 1.*200 blanks/s],
  ])('too long is refused: %s', (_, text, said) => {
    expect(() => table(text)).toThrow(said);
  });

  it('a quotation mark left open is told by the line it stands in', () => {
    expect(() => table('id,width\nA,1\nB,"16\nC,3\nD,4\n')).toThrow(
      /^f\.csv cannot .*\nf\.csv line 3: given a quotation/,
    );
  });
});

describe('a CSV file is written', () => {
  it('as RFC 4180 says, for a spreadsheet', () => {
    const text = csvText(
      ['rail', 'note'],
      [
        ['A/1/top', 'x,y'],
        ['5 1/2"', null],
      ],
    );
    expect(text).toBe('\uFEFFrail,note\r\nA/1/top,"x,y"\r\n"5 1/2""",\r\n');
  });

  it('numbers as numbers, and no text as a formula', () => {
    const [, row] = csvText(['a'], [[-1.5, '-1.5', '=1+1', '@x', ' +2', '\t=1', '＝1', 'a=1']]).split('\r\n');
    expect(row).toBe("-1.5,'-1.5,'=1+1,'@x,' +2,'\t=1,'＝1,a=1");
  });

  it('and read again by csv-parse says the same, seeded', () => {
    const cells = fc.array(fc.array(fc.string({ unit: 'binary' }), { minLength: 2, maxLength: 4 }), {
      maxLength: 6,
    });
    fc.assert(
      fc.property(cells, (rows) => {
        const same = rows.map((row) => row.map((cell) => cell.replace(/\0/g, '')));
        const read = parse(csvText(['x', 'y'], same), {
          bom: true,
          relax_column_count: true,
          record_delimiter: '\r\n',
        });
        const back = read
          .slice(1)
          .map((row) =>
            row.map((cell, i) =>
              cell.startsWith("'") && !same[read.indexOf(row) - 1]![i]!.startsWith("'")
                ? cell.slice(1)
                : cell,
            ),
          );
        expect(back).toEqual(same);
      }),
      { seed: 15, numRuns: 40 },
    );
  });
});
