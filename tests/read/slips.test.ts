/** Slips people make when they write a batch by hand: told by the line they stand in, with what was likely meant. */
import { describe, expect, it } from 'vitest';
import { readBatch } from '../../src/documents/batch/read.js';
import { PairstopError } from '../../src/errors.js';

const BATCH = `{
  "schema": "pairstop/batch@1",
  "id": "slips",
  "units": "in",
  "saw": { "kerf": "1/8" },
  "mouldings": [{ "id": "ash", "face": "1 1/4", "rabbet": "1/4" }],
  "frames": [
    { "id": "A-101", "moulding": "ash", "width": "16 3/8", "height": "20" },
    { "id": "A-102", "moulding": "ash", "width": "16", "height": "20" }
  ],
  "offers": [{ "id": "ash-8", "moulding": "ash", "length": "8'" }]
}`;

function refusal(from: string | RegExp, to: string): string {
  const text = BATCH.replace(from, to);
  expect(text).not.toBe(BATCH);
  try {
    readBatch(text);
  } catch (error) {
    if (error instanceof PairstopError) return error.message;
  }
  return '';
}

describe('a slip in the JSON', () => {
  it('as it stands the batch is sound', () => {
    expect(readBatch(BATCH).frames).toHaveLength(2);
  });

  it('an inch mark that is not escaped, by its line, with how it is written', () => {
    const told = refusal('"width": "16 3/8",', '"width": "16 3/8"",');
    expect(told).toMatch(/^PS_JSON|an inch mark that ends the text \(line 8, column \d+\); allowed: .*\\"/m);
  });

  it('a comma left out, by the line it belongs in and not the next', () => {
    expect(refusal('"units": "in",', '"units": "in"')).toMatch(
      /two values with no comma between \(line 4, column 16\); allowed: a comma/,
    );
    expect(refusal('"20" },\n', '"20" }\n')).toMatch(/no comma between \(line 8, /);
  });

  it('keys that come twice are still refused where the grammar is sound', () => {
    expect(refusal('"id": "slips"', '"id": "slips", "id": "x"')).toContain('the same key again');
  });
});

describe('a slip in a value', () => {
  it('a decimal comma, with what to write', () => {
    expect(refusal('"16 3/8"', '"16,5"')).toContain('write "16.5", with a decimal point');
  });

  it("is told with the order line's id beside its place, ranges and examples in the batch's units", () => {
    const told = refusal('"16 3/8"', '"wide"');
    expect(told).toMatch(
      /\nframes\[0\]\.width of "A-101": given "wide"; allowed: a length, above 0, up to \d+ 1\/32": .*"8' 2 1\/2\\""|up to 3937"/,
    );
    expect(told).not.toContain('100000 mm');
    expect(refusal('"units": "in"', '"units": "mm", "note": 5')).not.toMatch(/such as "16 3\/8"/);
  });

  it('a rabbet as wide as the face, and a kerf of inches that were millimetres, are refused', () => {
    expect(refusal('"rabbet": "1/4"', '"rabbet": "1 1/4"')).toMatch(
      /mouldings\[0\]\.rabbet of "ash": given "1 1\/4"; allowed: less than the face, 1 1\/4"/,
    );
    expect(refusal('"kerf": "1/8"', '"kerf": "3.2"')).toMatch(
      /saw\.kerf: given "3\.2"; allowed: a length, 0 to 1"/,
    );
  });
});
