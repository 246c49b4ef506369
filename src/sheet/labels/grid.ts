/** How labels lie on their sheets or on a roll, in millimetres. */
import { PairstopError } from '../../errors.js';
import type { Units } from '../../terms.js';

export interface LabelGrid {
  readonly width: number;
  readonly height: number;
  /** Labels across and down; null: a roll, one label after the other. */
  readonly columns: number;
  readonly rows: number;
  readonly roll: boolean;
  readonly page: { readonly width: number; readonly height: number };
  /** From the page's edges to the first label, and between labels. */
  readonly margin: { readonly left: number; readonly top: number };
  readonly gap: { readonly across: number; readonly down: number };
}

/** As typed; each is two numbers with an x between. */
export interface LabelTexts {
  readonly labelSize?: string;
  readonly labelGrid?: string;
  readonly labelMargin?: string;
  readonly labelGap?: string;
  readonly labelPage?: string;
}

/** ISO 216 A4, and ANSI/ASME Y14.1 A (US letter). */
const PAGES: Readonly<Record<string, readonly [number, number]>> = { a4: [210, 297], letter: [215.9, 279.4] };
const PAIR = /^(\d{1,3}(?:\.\d{1,3})?) ?[x×] ?(\d{1,3}(?:\.\d{1,3})?)$/i;
const SMALLEST = 10;
const LARGEST = 500;
const MOST = 40;

function refuse(option: string, given: string, allowed: string): never {
  throw new PairstopError('PS_USAGE', `${option}: given ${JSON.stringify(given)}; allowed: ${allowed}`);
}

function pair(option: string, text: string, least: number, most: number, what: string): [number, number] {
  const found = PAIR.exec(text.trim());
  const [a, b] = [Number(found?.[1] ?? Number.NaN), Number(found?.[2] ?? Number.NaN)];
  if (found !== null && a >= least && b >= least && a <= most && b <= most) return [a, b];
  return refuse(option, text, `${what}, two numbers of ${least} to ${most} with an x between`);
}

/** Throws PS_USAGE. Without a grid the labels come on a roll; without margins the grid stands in the page's middle. */
export function labelGrid(texts: LabelTexts, units: Units): LabelGrid {
  const { labelSize = '63x38', labelGrid: grid, labelMargin, labelGap = '0x0', labelPage } = texts;
  const [width, height] = pair('--label-size', labelSize, SMALLEST, LARGEST, 'width and height in mm');
  if (grid === undefined) {
    const none = { left: 0, top: 0 };
    return {
      width,
      height,
      columns: 1,
      rows: 1,
      roll: true,
      page: { width, height },
      margin: none,
      gap: { across: 0, down: 0 },
    };
  }
  const [columns, rows] = pair('--label-grid', grid, 1, MOST, 'labels across and down');
  if (!Number.isInteger(columns) || !Number.isInteger(rows)) {
    refuse('--label-grid', grid, 'whole numbers, labels across and down');
  }
  const named = (labelPage ?? (units === 'in' ? 'letter' : 'a4')).toLowerCase();
  const [pageWidth, pageHeight] =
    PAGES[named] ?? pair('--label-page', named, SMALLEST, LARGEST, 'a4, letter, or width and height in mm');
  const [across, down] = pair('--label-gap', labelGap, 0, LARGEST, 'gaps across and down in mm');
  const [wide, high] = [columns * width + (columns - 1) * across, rows * height + (rows - 1) * down];
  const [left, top] =
    labelMargin === undefined
      ? [(pageWidth - wide) / 2, (pageHeight - high) / 2]
      : pair('--label-margin', labelMargin, 0, LARGEST, 'left and top margin in mm');
  if (left < 0 || top < 0 || left + wide > pageWidth + 0.01 || top + high > pageHeight + 0.01) {
    refuse(
      '--label-grid',
      grid,
      `what fits on a page of ${pageWidth} x ${pageHeight} mm: ${columns} x ${rows} labels of ${labelSize} mm take ${wide} x ${high} mm${labelMargin === undefined ? '' : ' and the margins'}`,
    );
  }
  return {
    width,
    height,
    columns,
    rows,
    roll: false,
    page: { width: pageWidth, height: pageHeight },
    margin: { left, top },
    gap: { across, down },
  };
}
