/**
 * CSV for spreadsheets (RFC 4180): a header, then rows, comma between cells, CRLF at the end of each line.
 *
 * A spreadsheet takes a text that begins with `=`, `+`, `-` or `@` for a formula, and would run what a stranger wrote
 * as an id. Such a text is written behind an apostrophe, which marks it as text (OWASP, CSV Injection). Numbers are
 * written as they are.
 */
import { stringify } from 'csv-stringify/sync';

export type CsvCell = string | number | null;

/** A spreadsheet that knows no other encoding takes a file with this mark for UTF-8. */
const BYTE_ORDER_MARK = '\uFEFF';

/** The signs that begin a formula, also behind white space that a spreadsheet drops, and in their full-width forms. */
const FORMULA = /^[\s\uFEFF]*[=+\-@＝＋－＠]|^[\t\r\n]/u;

/** A text as no spreadsheet takes it for a formula. */
export function asText(text: string): string {
  return FORMULA.test(text) ? `'${text}` : text;
}

function cell(value: CsvCell): string {
  if (value === null) return '';
  return typeof value === 'number' ? String(value) : asText(value);
}

/** `rows` under `header`; null is an empty cell. */
export function csvText(header: readonly string[], rows: readonly (readonly CsvCell[])[]): string {
  const lines = [header, ...rows].map((row) => row.map(cell));
  return BYTE_ORDER_MARK + stringify(lines, { record_delimiter: '\r\n' });
}
