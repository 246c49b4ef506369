/** Cells become values of the batch document. What cannot be read stays as it is written, and the schema refuses it. */
import { pointed } from '../csv/decimal.js';
import type { HeaderUnit } from '../csv/header.js';
import { spanTexts } from '../lengths/span.js';
import type { OrderColumn } from './columns.js';

export interface CellContext {
  /** Whether a comma may be the decimal sign: the separator is another. */
  readonly decimalComma: boolean;
  readonly unit: HeaderUnit | null;
}

export interface CellValue {
  readonly value: unknown;
  /** A length that says no unit, so that the batch's units decide. */
  readonly bare?: boolean;
  /** What is allowed, where the schema's own words would not help. */
  readonly refused?: string;
}

const HAS_UNIT = /[a-z'"′″’”]/i;
const MONTHS = 'jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec';
/** What a spreadsheet makes of `3/8` typed into a cell that is not set to text. */
const DATE = new RegExp(
  `^(?:\\d{1,4}[-./ ]{1,2}(?:${MONTHS})[a-z]*|(?:${MONTHS})[a-z]*[-. ]{1,2}\\d{1,4}|\\d{4}-\\d\\d-\\d\\d.*|\\d{1,2}[./]\\d{1,2}[./]\\d{2,4})$`,
  'i',
);

export const DATE_HINT =
  'a length; a spreadsheet has made a date of a fraction: set the column to "text" and write it again, or write a decimal';

function comma(text: string, { decimalComma }: CellContext): CellValue | string {
  const point = pointed(text, decimalComma);
  return 'text' in point ? point.text : { value: text, refused: point.refused };
}

function lengthOf(text: string, context: CellContext): CellValue {
  if (DATE.test(text)) return { value: text, refused: DATE_HINT };
  const point = comma(text, context);
  if (typeof point !== 'string') return point;
  if (HAS_UNIT.test(point)) return { value: point };
  if (context.unit !== null) return { value: `${point} ${context.unit}` };
  return { value: point, bare: !/^0*\.?0*$/.test(point) };
}

/** Thousands in groups of three, where the other sign or a space leaves no doubt of it: `1,023.40`, `1.023,40`, `1 023,40`. */
const GROUPED =
  /^-?[1-9]\d{0,2}(?:(?:,\d{3})+(?=\.\d+$)|(?:\.\d{3})+(?=,\d+$)|(?:[ \u00A0\u202F'’]\d{3})+)(?:[.,]\d+)?$/;

function ungrouped(text: string): string {
  if (!GROUPED.test(text)) return text;
  const [, whole = text, fraction = ''] = /^(.*?)([.,]\d+)?$/.exec(text) ?? [];
  return whole.replaceAll(/[^\d-]/g, '') + fraction.replace(',', '.');
}

function numberOf(text: string, context: CellContext): CellValue {
  const plain = ungrouped(text.replace(/^[$€£]\s?|\s?[$€£]$/g, ''));
  const point = comma(plain, context);
  if (typeof point !== 'string') return { ...point, value: text };
  return { value: /^-?\d+(?:\.\d+)?$/.test(point) ? Number(point) : text };
}

const YES = new Set(['yes', 'y', 'true', 'x', '1']);
const NO = new Set(['no', 'n', 'false', '0', '-']);

function flagOf(text: string): CellValue {
  const small = text.toLowerCase();
  if (YES.has(small)) return { value: true };
  return NO.has(small) ? { value: false } : { value: text, refused: 'yes or no' };
}

const FLAW_FORMS = 'flaws as in "20 to 23 1/2; 40 to 41", from the left end';

/** `20 to 23 1/2; 40-41`. What a bare number counts in is not known here: a span in either unit is one. */
function spansOf(text: string, context: CellContext): CellValue {
  const ends: (readonly CellValue[])[] = [];
  for (const span of text.split(/\s*(?:;|\band\b)\s*/)) {
    const point = DATE.test(span) ? { value: text, refused: DATE_HINT } : comma(span, context);
    if (typeof point !== 'string') return { ...point, value: text };
    const texts = spanTexts(point, 'in') ?? spanTexts(point, 'mm');
    if (texts === null) return { value: text, refused: FLAW_FORMS };
    ends.push(texts.map((end) => lengthOf(end, context)));
  }
  return {
    value: ends.map((pair) => pair.map(({ value }) => value)),
    bare: ends.flat().some(({ bare }) => bare === true),
  };
}

/** `25 at 21.90; 50 at 20.50`. */
function breaksOf(text: string, context: CellContext): CellValue {
  const steps = text.split(/\s*;\s*/).map((step) => /^(\d+)\s*(?:at|:|=)\s*(.+)$/i.exec(step));
  const value = steps.map((step) => ({
    from: Number(step?.[1]),
    price: numberOf(step?.[2] ?? '', context).value,
  }));
  if (steps.includes(null)) return { value: text, refused: 'price breaks as in "25 at 21.90; 50 at 20.50"' };
  return { value };
}

/** `16 x 20`: two lengths; a unit behind the second serves both. */
export function sizeOf(text: string, context: CellContext): readonly [CellValue, CellValue] | null {
  const sides = text.split(/\s*(?:[x×*]|\bby\b)\s*/i);
  if (sides.length !== 2) return null;
  const unit = /\s*(mm|cm|m|in|inch|inches|ft|"|')$/i.exec(sides[1]!)?.[0];
  if (unit !== undefined && !HAS_UNIT.test(sides[0]!)) sides[0] += unit;
  return [lengthOf(sides[0]!, context), lengthOf(sides[1]!, context)];
}

/** The value of a cell that is not empty. */
export function cellValue(text: string, { kind, choices }: OrderColumn, context: CellContext): CellValue {
  switch (kind) {
    case 'text':
    case 'size':
      return { value: text };
    case 'length':
      return lengthOf(text, context);
    case 'number':
      return numberOf(text, context);
    case 'flag':
      return flagOf(text);
    case 'choice':
      return { value: choices.find((one) => one.toLowerCase() === text.toLowerCase()) ?? text };
    case 'spans':
      return spansOf(text, context);
    case 'words':
      return { value: text.toLowerCase().split(/[^a-z]+/) };
    case 'breaks':
      return breaksOf(text, context);
    case 'counts':
      return { value: text.split(/[\s,;]+/).map(Number) };
    default:
      return kind satisfies never;
  }
}
