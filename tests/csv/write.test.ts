/** Checked with another library's reader, and against RFC 4180's own forms. */
import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { csvText } from '../../src/csv/write.js';

describe('CSV', () => {
  it('is what RFC 4180 says: CRLF, and quotes where a cell needs them', () => {
    const text = csvText({
      columns: ['id', 'note'],
      rows: [
        ['a,b', 'says "8\'"'],
        ['two\nlines', 3.5],
      ],
    });
    expect(text).toBe('id,note\r\n"a,b","says ""8\'"""\r\n"two\nlines",3.5\r\n');
  });

  it('leaves a spreadsheet no formula, and numbers as they are', () => {
    const hostile = ['=1+1', '+1', '-1', '@SUM(A1)', '\t=1', '\r=1', '=cmd|"/c calc"!A1'];
    const rows = parse(csvText({ columns: ['id', 'n'], rows: hostile.map((id) => [id, -2.5]) }), {
      from_line: 2,
    });
    expect(rows).toEqual(hostile.map((id) => [`'${id}`, '-2.5']));
  });
});
