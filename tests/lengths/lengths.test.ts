import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PairstopError } from '../../src/errors.js';
import { type Exact, exact, needUm, supplyUm, times } from '../../src/lengths/exact.js';
import { formatLength } from '../../src/lengths/format.js';
import { LONGEST_LENGTH_TEXT, parseLength, tryParseLength } from '../../src/lengths/parse.js';
import { tryParseSpan } from '../../src/lengths/span.js';
import { mmFromUm, umFromMm } from '../../src/lengths/units.js';
import type { Units } from '../../src/terms.js';

/** Micrometres as a fraction, so that nothing is rounded before it is compared. */
function um(num: number | bigint, den: number | bigint = 1): Exact {
  return exact(BigInt(num), BigInt(den));
}

describe('the units', () => {
  // NIST SP 811 (2008), appendix B.8: 1 inch = 2.54 E-02 m and 1 foot = 3.048 E-01 m, both exact.
  it('counts an inch as 25.4 mm and a foot as 304.8 mm, exactly', () => {
    expect(parseLength('1 in', 'mm')).toEqual(um(25_400));
    expect(parseLength('1 ft', 'mm')).toEqual(um(304_800));
    expect(parseLength(1, 'in')).toEqual(parseLength('25.4 mm', 'in'));
    expect(parseLength('1 m', 'in')).toEqual(um(1_000_000));
  });

  // ISO 216: A4 is 210 mm × 297 mm.
  it('agrees with ISO 216 sizes in every metric unit', () => {
    for (const text of ['297 mm', '29.7 cm', '0.297 m']) expect(parseLength(text, 'in')).toEqual(um(297_000));
    expect(parseLength(210, 'mm')).toEqual(um(210_000));
  });
});

const CONTRACT: readonly (readonly [string, Exact])[] = [
  ['16 3/8', um(415_925)],
  ['16-3/8', um(415_925)],
  ['3/32', um(9_525, 4)],
  ['16.375', um(415_925)],
  ["8'", um(2_438_400)],
  [`8' 2 1/2"`, um(2_501_900)],
  ['405 mm', um(405_000)],
  ['40.5 cm', um(405_000)],
  ['1.2 m', um(1_200_000)],
  ['10 ft', um(3_048_000)],
  ['10 ft 4 in', um(3_149_600)],
];

const LENIENT: readonly (readonly [string, Exact])[] = [
  ['16½', um(419_100)],
  ['16 ⅜', um(415_925)],
  ['⅞ in', um(22_225)],
  ['3⁄32', um(9_525, 4)],
  ['8′ 2½″', um(2_501_900)],
  ['8’ 2 1/2”', um(2_501_900)],
  [`8'-2 1/2"`, um(2_501_900)],
  [`8' - 2 1/2''`, um(2_501_900)],
  ["8'2", um(2_489_200)],
  ['10ft4in', um(3_149_600)],
  ['10 feet 4 inches', um(3_149_600)],
  ['1 foot', um(304_800)],
  ['1/2 ft', um(152_400)],
  ['16–3/8', um(415_925)],
  ['  16   3 / 8  IN. ', um(415_925)],
  ['16\u00a03/8', um(415_925)],
  ['405MM', um(405_000)],
  ['.5', um(12_700)],
  ['5.', um(127_000)],
  ['0', um(0)],
  ['1/3', um(25_400, 3)],
];

const REFUSED = [
  '',
  ' ',
  '-3',
  '+3',
  '−3',
  '16,5',
  '1,200 mm',
  '16 - 3/8',
  '16 9/8',
  '16 8/8',
  '1/0',
  '0/0',
  '1 2 3',
  '1.2.3',
  '16.5 3/8',
  '1e3',
  'Infinity',
  'NaN',
  '0x10',
  '10 ft 4 mm',
  '10.5 ft 4 in',
  "8' 2' 3",
  'mm',
  "'",
  '"',
  '/',
  '.',
  '3/',
  '12 km',
  '１２',
  '16 3/8 in in',
  'sixteen',
] as const;

describe('parseLength', () => {
  it.each(CONTRACT)('reads the contract form %s', (text, length) => {
    expect(parseLength(text, 'in')).toEqual(length);
  });

  it.each(LENIENT)('reads %j, which can only mean one thing', (text, length) => {
    expect(parseLength(text, 'in')).toEqual(length);
  });

  it('counts a bare number in the units of the batch, and a unit written out regardless of them', () => {
    expect(parseLength('16 3/8', 'mm')).toEqual(um(16_375));
    expect(parseLength(405, 'mm')).toEqual(parseLength('405 mm', 'in'));
    expect(parseLength("8'", 'mm')).toEqual(parseLength("8'", 'in'));
    expect(parseLength("8' 2", 'mm')).toEqual(um(2_489_200));
  });

  it('takes a number by its shortest decimal text, not by its binary value', () => {
    expect(parseLength(0.1, 'in')).toEqual(um(2_540));
    expect(parseLength(16.3, 'mm')).toEqual(um(16_300));
    expect(parseLength(1e-7, 'mm')).toEqual(um(1, 10_000));
    expect(parseLength(1e21, 'mm')).toEqual(um(10n ** 24n));
    expect(parseLength(-0, 'mm')).toEqual(um(0));
  });

  it.each(REFUSED)('refuses %j, showing it and what is allowed', (text) => {
    expect(tryParseLength(text, 'in')).toBeNull();
    expect(() => parseLength(text, 'in')).toThrow(PairstopError);
    expect(() => parseLength(text, 'in')).toThrow(
      /is not a length; allowed: a number, or text such as "16 3\/8"/,
    );
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY, -1, 1e308, 5e-324, null, undefined, {}, [], true, 3n])(
    'takes %s for no length',
    (given) => {
      expect(tryParseLength(given, 'mm')).toBeNull();
    },
  );

  it('looks at no text longer than a person writes', () => {
    expect(tryParseLength('1'.repeat(LONGEST_LENGTH_TEXT), 'mm')).not.toBeNull();
    for (const filler of ['1', ' ', '1 ', '/', '1/', "'", '½', 'a']) {
      expect(tryParseLength(filler.repeat(1_000_000), 'mm')).toBeNull();
    }
  });

  it('gives a length or null for any text at all', () => {
    const alphabet = `0123456789./-'" ½⅜′″mftincé\u00a0`.split('');
    const text = fc
      .array(fc.constantFrom(...alphabet), { maxLength: LONGEST_LENGTH_TEXT })
      .map((c) => c.join(''));
    fc.assert(
      fc.property(fc.oneof(text, fc.string()), (given) => {
        const length = tryParseLength(given, 'in');
        expect(length === null || (length.num >= 0n && length.den > 0n)).toBe(true);
      }),
      { seed: 20_260_301, numRuns: 20_000 },
    );
  });
});

describe('rounding to whole micrometres', () => {
  it('takes a need up and a supply down', () => {
    const third = parseLength('1/3', 'in');
    expect(needUm(third)).toBe(8_467);
    expect(supplyUm(third)).toBe(8_466);
    expect([needUm(um(5)), supplyUm(um(5))]).toEqual([5, 5]);
  });

  it('keeps mm and µm apart by a factor that undoes itself', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 200_000_000 }), (length) => {
        expect(umFromMm(mmFromUm(length))).toBe(length);
      }),
      { seed: 7, numRuns: 5_000 },
    );
  });
});

const STEP_IN = um(3_175, 4);

describe('formatLength', () => {
  it.each([
    [569_913, 'in', '22 7/16"'],
    [415_925, 'in', '16 3/8"'],
    [2_382, 'in', '3/32"'],
    [558_800, 'in', '22"'],
    [0, 'in', '0"'],
    [568_250, 'mm', '568.3 mm'],
    [568_249, 'mm', '568.2 mm'],
    [568_000, 'mm', '568 mm'],
    [-12_700, 'in', '-1/2"'],
    [-3, 'in', '0"'],
  ] as const)('writes %i µm in %s as %s', (length, units, text) => {
    expect(formatLength(length, units)).toBe(text);
  });

  it('rounds a tie to the larger length', () => {
    expect(formatLength(50, 'mm')).toBe('0.1 mm');
    expect(formatLength(49, 'mm')).toBe('0 mm');
    // A 64th, half a mark, lies between two whole micrometres: 396.875.
    expect(formatLength(397, 'in')).toBe('1/32"');
    expect(formatLength(396, 'in')).toBe('0"');
  });

  it('is exact for every setting on the 1/32 in step up to 12 ft', () => {
    for (let n = 1n; n <= 12n * 12n * 32n; n++) {
      const setting = times(STEP_IN, n);
      expect(parseLength(formatLength(needUm(setting), 'in', STEP_IN), 'in')).toEqual(setting);
    }
  });

  it.each([
    ['in', um(25_400, 64), '20 41/64"', 524_272],
    ['in', um(254), '20.63"', 524_002],
    ['in', um(500), '524.5 mm', 524_500],
    ['in', um(25_400, 16), '20 21/32"', 524_669],
    ['mm', um(500), '524.5 mm', 524_500],
    ['mm', um(250), '524.25 mm', 524_250],
    ['mm', STEP_IN, '524.669 mm', 524_669],
  ] as const)('in %s with a step of %o shows its settings exactly: %s', (units, step, text, length) => {
    expect(formatLength(length, units, step)).toBe(text);
  });

  it('is read back to the nearest mark, whatever the batch counts in', () => {
    const units = fc.constantFrom<Units>('in', 'mm');
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 100_000_000 }), units, units, (length, written, read) => {
        const back = parseLength(formatLength(length, written), read);
        const halfMark = written === 'in' ? um(25_400, 64) : um(50);
        const off =
          (back.num - BigInt(length) * back.den) * (back.num < BigInt(length) * back.den ? -1n : 1n);
        expect(off * halfMark.den <= halfMark.num * back.den).toBe(true);
      }),
      { seed: 1959, numRuns: 5_000 },
    );
  });

  it('writes back every length it wrote', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 100_000_000 }),
        fc.constantFrom<Units>('in', 'mm'),
        (length, units) => {
          const text = formatLength(length, units);
          expect(formatLength(needUm(parseLength(text, units)), units)).toBe(text);
        },
      ),
      { seed: 811, numRuns: 5_000 },
    );
  });
});

describe('a span', () => {
  it('is parted by "to" or by a dash, in the one way there is', () => {
    for (const text of [
      '20 to 23 1/2',
      '20-23 1/2',
      '20 – 23-1/2',
      '20..23.5',
      '20-23 1/2 in',
      '20" to 23 1/2"',
    ])
      expect(tryParseSpan(text, 'in')).toEqual([508_000, 596_900]);
    expect(tryParseSpan('20-3/8-23-1/2', 'in')).toEqual([517_525, 596_900]);
    expect(tryParseSpan('400-430 mm', 'in')).toEqual([400_000, 430_000]);
    expect(tryParseSpan('0-12', 'mm')).toEqual([0, 12_000]);
  });

  it('is none where it could mean two things, or runs backwards', () => {
    for (const text of ['', 'to', '20', '20-3/8', '1-2-3', '5 to 4', '4 to 4', '1 to 2 to 3', '3;4', '-3'])
      expect(tryParseSpan(text, 'in')).toBeNull();
  });

  it('is read back as it was written, whatever stands between', () => {
    const at = fc.integer({ min: 0, max: 64_000 });
    const between = fc.constantFrom(' to ', '-', ' - ', '–', '..');
    fc.assert(
      fc.property(at, at, between, (a, b, sign) => {
        fc.pre(a !== b);
        const [from, to] = [Math.min(a, b) / 8, Math.max(a, b) / 8];
        expect(tryParseSpan(`${from}${sign}${to}`, 'mm')).toEqual([from * 1_000, to * 1_000]);
      }),
      { seed: 2026, numRuns: 2_000 },
    );
  });
});
