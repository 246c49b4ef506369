/**
 * Reads a written length exactly. A bare number counts in the batch's units; after feet a bare number counts inches.
 *
 *     16 3/8   16-3/8   3/32   16.375   16½   8'   8' 2 1/2"   8'-2 1/2"   10 ft 4 in   405 mm   40.5 cm   1.2 m
 *
 * Refused because they could mean two things: decimal commas and thousands separators, signs, `16 - 3/8`,
 * a mixed number with an improper fraction (`16 9/8`), exponents in text.
 */
import { PairstopError } from '../errors.js';
import { add, type Exact, exact, times } from './exact.js';
import { UM_PER_CM, UM_PER_FOOT, UM_PER_INCH, UM_PER_M, UM_PER_MM, type Units } from './units.js';

/** Longest text looked at: ten times what a person writes, and too short to make any pattern below slow. */
export const LONGEST_LENGTH_TEXT = 64;

/** What a length may be written as, with examples in the units at hand. */
export const LENGTH_FORMS: Readonly<Record<Units, string>> = {
  in: `a number, or text such as "16 3/8", "16.375", "8'", "8' 2 1/2\\"", "10 ft 4 in", "405 mm"`,
  mm: `a number, or text such as "405.5", "40.5 cm", "1.2 m", "16 3/8 in", "8'"`,
};

const VULGAR: Readonly<Record<string, string>> = {
  '½': '1/2',
  '⅓': '1/3',
  '⅔': '2/3',
  '¼': '1/4',
  '¾': '3/4',
  '⅕': '1/5',
  '⅖': '2/5',
  '⅗': '3/5',
  '⅘': '4/5',
  '⅙': '1/6',
  '⅚': '5/6',
  '⅐': '1/7',
  '⅛': '1/8',
  '⅜': '3/8',
  '⅝': '5/8',
  '⅞': '7/8',
  '⅑': '1/9',
  '⅒': '1/10',
};

/** Most lengths are written so already: one number, or two with a space between. */
const PLAIN = /^\d[\d./-]*(?: \d[\d./-]*)?$/;

/** One spelling for dashes, primes, quotes, fraction slashes, vulgar fractions and white space. */
function plain(text: string): string {
  if (PLAIN.test(text)) return text;
  return text
    .replace(/[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒]/g, (sign) => ` ${VULGAR[sign] ?? sign}`)
    .replace(/[‐‑–]/g, '-')
    .replace(/[′’]/g, "'")
    .replace(/[″”]/g, '"')
    .replace(/''/g, '"')
    .replace(/\s*[/⁄∕]\s*/g, '/')
    .replace(/\s+/g, ' ')
    .trim()
    .toLowerCase();
}

const MIXED = /^(\d+)[ -](\d+)\/(\d+)$/;
const FRACTION = /^(\d+)\/(\d+)$/;
const DECIMAL = /^(\d*)\.?(\d*)$/;
const FEET =
  /^([\d./ -]*\d\.?) ?(?:'|ft\.?|feet|foot)(?: ?- ?| )?(?:([\d./][\d./ -]*?) ?(?:"|in\.?|inch|inches)?)?$/;
const WITH_UNIT = /^([\d./ -]*[\d.]) ?("|in\.?|inch|inches|mm|cm|m)?$/;

function fraction(top: string, bottom: string): Exact | null {
  const den = BigInt(bottom);
  return den === 0n ? null : exact(BigInt(top), den);
}

/** `16 3/8`, `16-3/8`, `3/32`, `16.375`, `.5`; null when it is none of them. */
function unsigned(text: string): Exact | null {
  const mixed = MIXED.exec(text);
  if (mixed !== null) {
    const [, whole = '', top = '', bottom = ''] = mixed;
    const part = fraction(top, bottom);
    return part === null || part.num >= part.den ? null : add(exact(BigInt(whole)), part);
  }
  const simple = FRACTION.exec(text);
  if (simple !== null) return fraction(simple[1] ?? '', simple[2] ?? '');
  const decimal = DECIMAL.exec(text);
  if (decimal === null) return null;
  const [, whole = '', part = ''] = decimal;
  if (whole === '' && part === '') return null;
  return exact(BigInt(whole + part), 10n ** BigInt(part.length));
}

function unitUm(unit: string | undefined, units: Units): bigint {
  switch (unit) {
    case undefined:
      return units === 'in' ? UM_PER_INCH : UM_PER_MM;
    case 'mm':
      return UM_PER_MM;
    case 'cm':
      return UM_PER_CM;
    case 'm':
      return UM_PER_M;
    default:
      return UM_PER_INCH;
  }
}

function fromText(given: string, units: Units): Exact | null {
  if (given.length > LONGEST_LENGTH_TEXT) return null;
  const text = plain(given);
  const feet = FEET.exec(text);
  if (feet !== null) {
    const [, footText = '', inchText] = feet;
    const foot = unsigned(footText);
    if (foot === null) return null;
    if (inchText === undefined) return times(foot, UM_PER_FOOT);
    const inch = unsigned(inchText);
    if (inch === null || foot.den !== 1n) return null;
    return add(times(foot, UM_PER_FOOT), times(inch, UM_PER_INCH));
  }
  const single = WITH_UNIT.exec(text);
  if (single === null) return null;
  const amount = unsigned(single[1] ?? '');
  return amount === null ? null : times(amount, unitUm(single[2], units));
}

/** Inches or millimetres, where the text says which; null where it is a bare number, or no length. */
export function unitsIn(given: string): Units | null {
  if (given.length > LONGEST_LENGTH_TEXT) return null;
  const text = plain(given);
  if (FEET.test(text)) return 'in';
  const unit = WITH_UNIT.exec(text)?.[2];
  if (unit === undefined) return null;
  return unit.endsWith('m') ? 'mm' : 'in';
}

const SHORTEST = /^(\d+)(?:\.(\d+))?(?:e([+-]\d{1,2}))?$/;

/** A double stands for its shortest decimal text, so 0.1 in is exactly a tenth of an inch. */
function fromNumber(given: number, units: Units): Exact | null {
  if (Number.isSafeInteger(given) && given >= 0)
    return { num: BigInt(given) * unitUm(undefined, units), den: 1n };
  const parts = SHORTEST.exec(String(given));
  if (parts === null) return null;
  const [, whole = '', part = '', power = '0'] = parts;
  const shift = Number(power) - part.length;
  const digits = BigInt(whole + part) * unitUm(undefined, units);
  return shift >= 0 ? exact(digits * 10n ** BigInt(shift)) : exact(digits, 10n ** BigInt(-shift));
}

/** Micrometres, never negative; null when `given` is no length. Does not limit how long a length may be. */
export function tryParseLength(given: unknown, units: Units): Exact | null {
  if (typeof given === 'number') return fromNumber(given, units);
  return typeof given === 'string' ? fromText(given, units) : null;
}

/** As `tryParseLength`, for the command line; throws PS_LENGTH with what was given and what is allowed. */
export function parseLength(given: string | number, units: Units): Exact {
  const length = tryParseLength(given, units);
  if (length !== null) return length;
  const shown = String(given).slice(0, LONGEST_LENGTH_TEXT);
  throw new PairstopError(
    'PS_LENGTH',
    `${JSON.stringify(shown)} is not a length; allowed: ${LENGTH_FORMS[units]}`,
  );
}
