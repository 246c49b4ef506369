/** An order in CSV says the same as the batch in JSON, and what is wrong with it is told where it stands. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkBatch } from '../../src/documents/batch/read.js';
import { PairstopError } from '../../src/errors.js';
import { COLUMNS, LISTS, tableNamed } from '../../src/orders/columns.js';
import { exampleFiles } from '../../src/orders/example.js';
import { type OrderGiven, readOrderFiles } from '../../src/orders/order.js';

const MOULDINGS = 'id,face,rabbet\nash,1 1/4 in,1/4 in\n';

/** Each file by its name, which says what it holds. */
function read(files: Readonly<Record<string, string>>, given: Partial<OrderGiven> = {}) {
  return readOrderFiles(
    Object.entries(files).map(([name, text]) => ({
      name,
      bytes: new TextEncoder().encode(text),
      table: tableNamed(name.replace(/\.\w+$/, '')) ?? 'frames',
    })),
    { id: 'test', ...given },
  );
}

/** Each problem as one line. */
function refused(
  files: Readonly<Record<string, string>>,
  given: Partial<OrderGiven> = {},
): readonly string[] {
  try {
    read(files, given);
  } catch (error) {
    if (error instanceof PairstopError) return error.message.split('\n').slice(1);
    throw error;
  }
  return [];
}

describe('an order in CSV', () => {
  it('means the same batch, whatever the separator, the order of columns and their case', () => {
    const document = {
      schema: 'pairstop/batch@1',
      id: 'test',
      units: 'mm',
      saw: { kerf: 2.4, recut: 1.5 },
      mouldings: [{ id: 'Esche', face: 30.5, rabbet: 6, endTrim: 10 }],
      frames: [
        {
          id: 'A',
          moulding: 'Esche',
          quantity: 2,
          width: 405,
          height: 500,
          measuredBy: 'outside',
          match: 'pair',
        },
        { id: 'B', moulding: 'Esche', sides: 6, side: 220.5 },
      ],
      sticks: [
        {
          id: 'r',
          moulding: 'Esche',
          length: 1500,
          flaws: [
            [200, 230],
            [400.5, 410],
          ],
        },
      ],
      offers: [
        {
          id: 'o',
          moulding: 'Esche',
          length: 2400,
          price: 18.5,
          breaks: [{ from: 10, price: 17.25 }],
          supplier: 's',
        },
      ],
      suppliers: [{ id: 's', minimumOrder: 50 }],
      options: { mergeStops: true, timeLimit: 5, grow: [1, 2] },
    };
    const german = {
      'frames.csv':
        '\uFEFFMEASURED BY;Match;id;Width (cm);height cm;Side [mm];Sides;Molding;Qty\r\noutside;Pair;A;40,5;50;;;Esche;2\r\n;;B;;;220,5;6;Esche;\r\n',
      'mouldings.csv': 'End_Trim (mm);RABBET mm;face mm;id\r\n10;6;30,5;Esche\r\n',
      'rack.csv': 'id;moulding;length (m);flaws (mm)\r\nr;Esche;1,5;200 to 230; 400,5 to 410\r\n'.replace(
        '200 to 230; 400,5 to 410',
        '"200 to 230; 400,5 to 410"',
      ),
      'offers.csv': 'id;moulding;length;price;breaks;supplier\r\no;Esche;2,4 m;18,50 €;10 at 17,25;s\r\n',
      'suppliers.csv': 'id;minimum order\r\ns;50\r\n',
      'saw.csv':
        'setting;value\r\nunits;mm\r\nKerf;2,4\r\nrecut;1,5\r\nmerge stops;yes\r\ntime limit;5\r\ngrow;1, 2\r\n',
    };
    expect(read(german).batch).toEqual(checkBatch(document));
    const tabs = Object.fromEntries(
      Object.entries(german).map(([name, text]) => [
        name,
        text
          .replace('"200 to 230; 400,5 to 410"', '200-230 and 400,5 - 410')
          .replaceAll(';', '\t')
          .replaceAll('\r\n', '\n'),
      ]),
    );
    expect(read(tabs).batch).toEqual(checkBatch(document));
  });

  it("parts a span whose ends count in unlike units: 1' to 20, 400-430 mm", () => {
    const rack = "id,length,flaws\nr1,8',1' to 20; 40-41\nr2,8',400-430 mm\n";
    const files = { 'frames.csv': 'id,size\nA,16 x 20\n', 'mouldings.csv': MOULDINGS, 'rack.csv': rack };
    const [first, second] = read({ ...files, 'saw.csv': 'setting,value\nunits,in\n' }).batch.sticks;
    expect(first?.flaws).toEqual([
      [304_800, 508_000],
      [1_016_000, 1_041_400],
    ]);
    expect(second?.flaws).toEqual([[400_000, 430_000]]);
  });

  it('in one file with sections, its settings in one row', () => {
    const text = `[frames]\nsize,quantity\n16 x 20,3\n\n[mouldings]\n${MOULDINGS}\n[rack]\nlength\n"8'"\n[saw]\nkerf (in),units,id\n3/32,in,show\n`;
    const { batch, document } = read({ 'order.csv': text });
    expect(document).toMatchObject({ id: 'show', units: 'in', saw: { kerf: '3/32 in' } });
    expect(read({ 'order.csv': text }, { askedId: 'show-2' }).document.id).toBe('show-2');
    expect(batch.frames).toMatchObject([{ id: '3', moulding: 'ash', quantity: 3 }]);
    expect(batch.sticks).toMatchObject([{ id: 'rack 11', moulding: 'ash', length: 2_438_400 }]);
  });

  it('says in a column when all of it is needed, once or in every row', () => {
    const due = (frames: string, more: Record<string, string> = {}) =>
      read({ 'frames.csv': frames, 'mouldings.csv': MOULDINGS, ...more }, { units: 'in' });
    const { document, batch } = due('size,Due\n16 x 20,2026-12-01\n8 x 10,\n11 x 14,2026-12-01\n');
    expect(document.due).toBe('2026-12-01');
    expect(batch.due).toBe('2026-12-01');
    expect(document.frames.every((line) => !('due' in line))).toBe(true);
    const moment = '2026-12-01T16:00:00+01:00';
    expect(due(`size,needed by\n16 x 20,${moment}\n`).batch.due).toBe(moment);
    // Set for the batch, and the same in its rows.
    const saw = 'setting,value\ndue,2026-12-01\n';
    expect(due('size\n16 x 20\n', { 'saw.csv': saw }).batch.due).toBe('2026-12-01');
    expect(due('size,due\n16 x 20,2026-12-01\n', { 'saw.csv': saw }).batch.due).toBe('2026-12-01');
  });

  it('is refused where its rows are needed by unlike dates, or by none that can be read', () => {
    const lines = (frames: string, more: Record<string, string> = {}) =>
      refused({ 'frames.csv': frames, 'mouldings.csv': MOULDINGS, ...more }, { units: 'in' });
    const unlike = lines('size,due\n16 x 20,2026-12-01\n8 x 10,2026-12-02\n');
    expect(unlike).toHaveLength(1);
    expect(unlike[0]).toMatch(/frames.csv line 3, due: given "2026-12-02"; .*"2026-12-01" as in line 2/);
    const wrong = lines('size,due\n16 x 20,12/1/26\n');
    expect(wrong[0]).toMatch(/frames.csv line 2, due: .*a date as 2026-12-01/);
    const set = lines('size,due\n16 x 20,2026-12-02\n', { 'saw.csv': 'setting,value\ndue,2026-12-01\n' });
    expect(set[0]).toMatch(
      /frames.csv line 2, due: given "2026-12-02"; .*"2026-12-01" as among the settings/,
    );
  });

  it('every field of the batch has its column', () => {
    expect(LISTS.map((list) => COLUMNS[list].usual)).toMatchObject([
      expect.arrayContaining(['id', 'measured by', 'play max', 'priority', 'size', 'due']),
      expect.arrayContaining(['end trim', 'keep over']),
      expect.arrayContaining(['flaws', 'value']),
      expect.arrayContaining(['breaks', 'pack']),
      ['id', 'length'],
      ['id', 'minimum order'],
    ]);
    expect(COLUMNS.settings.usual).toEqual(
      expect.arrayContaining(['kerf', 'skip impossible', 'time limit', 'id', 'units']),
    );
  });

  it('the example files are read as they are, in both units', () => {
    for (const units of ['in', 'mm'] as const) {
      const files = Object.fromEntries(
        exampleFiles(units, 'x').flatMap(({ name, text }) => (name.endsWith('.csv') ? [[name, text]] : [])),
      );
      expect(read(files).batch).toMatchObject({ id: 'pavilion-show', units });
    }
  });

  it('whatever stands in the cells, it is read or refused, seeded', () => {
    const cell = fc.oneof(
      fc.constantFrom('16 3/8', '40,5', '1,250', '3-Aug', '', 'x', '-1', "8'", '=1', '12 to 14'),
      fc.string({ maxLength: 12 }),
    );
    const row = fc.array(cell, { minLength: 3, maxLength: 7 });
    fc.assert(
      fc.property(fc.array(row, { maxLength: 5 }), fc.constantFrom(',', ';', '\t'), (rows, separator) => {
        const text = ['width,height,id,flaws,play', ...rows.map((cells) => cells.join(','))]
          .join('\n')
          .replaceAll(',', separator);
        try {
          read({ 'frames.csv': text, 'mouldings.csv': MOULDINGS }, { units: 'in' });
        } catch (error) {
          expect(error).toBeInstanceOf(PairstopError);
          expect(['PS_BATCH', 'PS_CSV']).toContain((error as PairstopError).code);
        }
      }),
      { seed: 15, numRuns: 100 },
    );
  });
});

describe('what is wrong with an order in CSV is told', () => {
  it('all at once, by file, line and column, each with what is allowed', () => {
    const frames = [
      'id;moulding;quantity;widht (in);height (in);measured by;play (in)',
      'A-1;ash;2;16;20;glass;',
      'A-2;ash;two;16;20 3//8;glass;',
      'A-3;ahs;1;16;20;windows;',
      'A-1;ash;1;16;20;glass;',
      'A-5;ash;1;16;08-Mar;glass;1,250',
      'A-6;ash;1;16;20;glass;;;extra',
      ';ash;-1;16;20;;',
    ].join('\n');
    const rack = 'id,moulding,length,colour\nr1,ash,"40,5 in",brown\n';
    const lines = refused({ 'frames.csv': frames, 'mouldings.csv': MOULDINGS, 'rack.csv': rack });
    const found = (start: string): string =>
      lines.find((line) => line.startsWith(start)) ?? `nothing begins ${start}`;
    expect(found('frames.csv line 1, widht (in): ')).toContain('the nearest is "width"');
    expect(found('frames.csv line 3, quantity: ')).toMatch(/given "two"; allowed: .*whole number/);
    expect(found('frames.csv line 3, height (in): ')).toMatch(/given "20 3\/\/8"; allowed: a length/);
    expect(found('frames.csv line 4, moulding: ')).toMatch(/given "ahs"; allowed: .*"ash"/);
    expect(found('frames.csv line 4, measured by: ')).toContain('given "windows"');
    expect(found('frames.csv line 5, id: ')).toContain('given "A-1"');
    expect(found('frames.csv line 6, height (in): ')).toMatch(/given "08-Mar"; .*date of a fraction/);
    expect(found('frames.csv line 6, play (in): ')).toContain('"1.250" or "1250"');
    expect(found('frames.csv line 7: ')).toContain('given "extra"');
    expect(found('frames.csv line 8, id: ')).toContain('given nothing');
    expect(found('frames.csv line 8, quantity: ')).toContain('given "-1"');
    expect(found('rack.csv line 1, colour: ')).toContain('no known column');
    expect(found('rack.csv line 2, length: ')).toMatch(/given "40,5 in"; .*write "40\.5 in"/);
    // The width is told once, in the header, not once a row.
    expect(lines.filter((line) => line.includes('width'))).toHaveLength(1);
  });

  it('a missing column once, with those there are', () => {
    expect(refused({ 'frames.csv': 'id,width\nA,16 in\nB,17 in\n', 'mouldings.csv': MOULDINGS })).toEqual([
      expect.stringMatching(/^frames\.csv line 1: given columns id, width; allowed: also a column "height"/),
    ]);
  });

  it('a length without a unit is never guessed', () => {
    const frames = 'id,width,height\nA,16,20\n';
    expect(refused({ 'frames.csv': frames, 'mouldings.csv': MOULDINGS })).toEqual([
      expect.stringMatching(/^frames\.csv line 2, width: given "16", which says no unit; allowed: .*--units/),
    ]);
    expect(read({ 'frames.csv': frames, 'mouldings.csv': MOULDINGS }, { units: 'in' }).batch.units).toBe(
      'in',
    );
  });

  it('an unknown section, a missing table, an empty file', () => {
    expect(refused({ 'order.csv': '[frame]\nsize\n16x20 in\n[mouldngs]\nid\nash\n' })).toEqual([
      expect.stringMatching(
        /^order\.csv line 4: given section \[mouldngs\]; allowed: the nearest is \[mouldings\]/,
      ),
      expect.stringMatching(/^mouldings: given no table of mouldings/),
    ]);
    expect(refused({ 'frames.csv': '', 'mouldings.csv': MOULDINGS }).join()).toContain(
      'frames.csv: given an empty file',
    );
  });

  it('a frame that no stick can hold, by its line', () => {
    const { placed } = read({
      'frames.csv': 'id,width (in),height (in)\nA,16,20\nB,160,20\n',
      'mouldings.csv': MOULDINGS,
    });
    const problem = { path: 'frames[1].width', given: 'frame "B"', allowed: 'less' };
    expect(
      placed(new PairstopError('PS_BATCH', 'frames cannot be cut: one problem', [problem])).message,
    ).toBe(
      'frames cannot be cut: one problem\nframes.csv line 3, width (in): given frame "B"; allowed: less',
    );
  });
});

describe('what a trial as an office stumbled over', () => {
  const SIZES = 'id,moulding,width (in),height (in)\nA,ash,16,20\n';
  const price = (cell: string, separator = ','): unknown => {
    const head = ['id', 'moulding', 'length', 'price'].join(separator);
    const row = ['o', 'ash', '8 ft', `"${cell}"`].join(separator);
    const offers = `${head}\n${row}\n`;
    return read({ 'frames.csv': SIZES, 'mouldings.csv': MOULDINGS, 'offers.csv': offers }).document
      .offers?.[0]?.price;
  };

  it.each([
    ['1,023.40', ',', 1023.4],
    ['$1,023.40', ',', 1023.4],
    ['1 023.40', ',', 1023.4],
    ['1\u00A0023', ',', 1023],
    ['1.023,40 €', ';', 1023.4],
    ["1'023.40", ';', 1023.4],
    ['1.234.567,9', ';', 1_234_567.9],
  ])('a price with its thousands apart: %s', (cell, separator, value) => {
    expect(price(cell, separator)).toBe(value);
  });

  it('a comma that could mean either is still asked about', () => {
    expect(() => price('1,023')).toThrow(/this comma could mean either/);
  });

  it('a size without a unit is told once, and not also as a size too small for its moulding', () => {
    const frames = 'id,moulding,size\nA,ash,16x20\nB,ash,8 1/2 × 11\nC,ash,"11"" x 14"""\n';
    const files = { 'frames.csv': frames, 'mouldings.csv': MOULDINGS };
    expect(refused(files)).toEqual([
      'frames.csv line 2, size: given "16x20", which says no unit; allowed: a unit in the header, "width (in)", or in the cell, "16 in"; or --units in or mm for all that say none',
    ]);
    const [, second] = read(files, { units: 'in' }).document.frames;
    expect(second).toEqual({ id: 'B', moulding: 'ash', width: '8 1/2', height: '11' });
  });

  it('suppliers that only the offers name are suppliers', () => {
    const offers =
      'id,moulding,length,price,supplier\no,ash,8 ft,18,mill\np,ash,10 ft,22,yard\nq,ash,9 ft,20,mill\n';
    const files = { 'frames.csv': SIZES, 'mouldings.csv': MOULDINGS, 'offers.csv': offers };
    expect(read(files).document.suppliers).toEqual([{ id: 'mill' }, { id: 'yard' }]);
    // With a table of them, one that is not in it is a slip.
    expect(refused({ ...files, 'suppliers.csv': 'id\nmill\n' })).toEqual([
      expect.stringMatching(/^offers\.csv line 3, supplier: given "yard"/) as string,
    ]);
  });

  it('an id that comes twice is told by the line of the first', () => {
    const files = { 'frames.csv': `${SIZES}A,ash,11,14\n`, 'mouldings.csv': MOULDINGS };
    expect(refused(files)).toEqual([
      'frames.csv line 3, id: given "A"; allowed: an id not yet used in frames; line 2 has this one',
    ]);
  });

  it('ten faults in one order are told at once, in inches, each where it stands', () => {
    const told = refused({
      'frames.csv': `id,molding,qty,widht (in),height (in),measured by,match
F1,ash,two,16,20,glas,
F2,ash,1,16 3//8,20,glass,pairs
F2,ash,1,11,14,glass,
F3,oak,1,11,14,glass,
F4,ash,-1,11,14,glass,
F5,ash,1,03-Aug,14,glass,
`,
      'mouldings.csv': 'id,face (in),rabbet (in)\nash,1 1/4,1 1/4\n',
      'offers.csv': 'id,moulding,length (ft),price\no,ash,8,abc\n',
    });
    expect(told.map((line) => line.split(': ')[0])).toEqual([
      // What stands under a misspelt header is looked at too.
      'frames.csv line 1, widht (in)',
      'frames.csv line 2, qty',
      'frames.csv line 2, measured by',
      'frames.csv line 3, widht (in)',
      'frames.csv line 3, match',
      'frames.csv line 4, id',
      'frames.csv line 5, molding',
      'frames.csv line 6, qty',
      'frames.csv line 7, widht (in)',
      'offers.csv line 2, price',
      'mouldings.csv line 2, rabbet (in)',
    ]);
    expect(told.at(-1)).toContain('less than the face, 1 1/4"');
  });
});
