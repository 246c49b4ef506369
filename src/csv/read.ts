/**
 * CSV as spreadsheets and people write it (RFC 4180): comma, semicolon or tab, with or without a byte order mark, any
 * line ends. The separator is read off the first line of the table. `# ` begins a line that is only a remark; a line
 * `[name]` begins a section.
 */
import { CsvError, parse } from 'csv-parse/sync';
import { type InputProblem, PairstopError } from '../errors.js';
import { PROBLEMS_LISTED } from '../read/limits.js';
import { problemText, show } from '../read/problems.js';

export interface CsvRow {
  /** As a text editor counts, from 1: where the row begins. */
  readonly line: number;
  /** White space around them taken off. */
  readonly cells: readonly string[];
}

/** Rows under one header. */
export interface CsvTable {
  /** As in `[name]`, in small letters; null: the file has no sections before it. */
  readonly section: string | null;
  readonly header: CsvRow;
  readonly rows: readonly CsvRow[];
}

export interface CsvFile {
  readonly separator: ',' | ';' | '\t';
  readonly tables: readonly CsvTable[];
}

/** A batch of 100,000 lines of some 100 characters each fits three times. */
export const CSV_BYTES = 64 * 2 ** 20;
/** The widest table of an order has some 15 columns; a spreadsheet adds empty ones. */
const LONGEST_ROW = 100_000;
/** Longest column name, and most white space in a row: what looks for units and spans in a cell takes their square. */
const LONGEST_NAME = 200;
const WIDE_GAP = /\s{200}/;

export function csvRefusal(file: string, problems: readonly InputProblem[]): PairstopError {
  const count = problems.length === 1 ? 'one problem' : `${problems.length} problems`;
  const listed = problems.slice(0, PROBLEMS_LISTED);
  return new PairstopError(
    'PS_CSV',
    `${file} cannot be read: ${count}\n${listed.map(problemText).join('\n')}`,
    listed,
  );
}

/**
 * Spreadsheets write UTF-8, UTF-16 with a mark ("Unicode text"), or the old code page of western Windows. What is not
 * UTF-8 is taken for the last, in which every byte is some letter.
 */
function decode(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

const MARK = /^\uFEFF/;
/** Some spreadsheets say their separator in a line before the table. */
const SAYS_SEPARATOR = /^sep=([,;\t])\r?$/i;
const SECTION = /^\[\s*([A-Za-z][A-Za-z ]*?)\s*\]$/;
const REMARK = /^#(\s|$)/;

function isRemark(line: string): boolean {
  return REMARK.test(line.replace(/^[\s"]+/, ''));
}

function sectionNamed(cell: string): string | null {
  return cell.length > LONGEST_NAME ? null : (SECTION.exec(cell)?.[1]?.toLowerCase() ?? null);
}

/** The separator of the first line that is a header, quoted parts left out: a tab or a semicolon before a comma. */
function separatorOf(lines: readonly string[]): CsvFile['separator'] {
  for (const line of lines) {
    const said = SAYS_SEPARATOR.exec(line)?.[1];
    if (said === ',' || said === ';' || said === '\t') return said;
    const bare = line.replace(/"[^"]*"/g, '');
    const first = bare.split(/[,;\t]/)[0]!.trim();
    if (bare.trim() === '' || isRemark(line) || sectionNamed(first) !== null) continue;
    if (bare.includes('\t')) return '\t';
    if (bare.includes(';')) return ';';
    if (bare.includes(',')) return ',';
  }
  return ',';
}

function isEmpty({ cells }: CsvRow): boolean {
  return cells.every((cell) => cell === '');
}

function sectionOf({ cells }: CsvRow): string | null {
  const [first = '', ...rest] = cells;
  if (rest.some((cell) => cell !== '')) return null;
  return sectionNamed(first);
}

interface CsvRecord {
  readonly record: readonly string[];
  readonly info: { readonly lines: number };
}

/** Where a quotation mark opens a cell and none closes it; null: each is closed. Lines end in a line feed here. */
function openQuote(text: string, separator: string): number | null {
  let [line, opened, quoted] = [1, 0, false];
  for (let i = 0; i < text.length; i++) {
    const [before, at, after] = [text[i - 1] ?? '\n', text[i], text[i + 1]];
    if (at === '\n') line += 1;
    if (at !== '"') continue;
    if (!quoted && (before === separator || before === '\n')) [quoted, opened] = [true, line];
    else if (quoted && after === '"') i += 1;
    else if (quoted && (after === separator || after === '\n' || after === undefined)) quoted = false;
  }
  return quoted ? opened : null;
}

function rowsOf(file: string, text: string, separator: CsvFile['separator']): readonly CsvRow[] {
  // Remarks go before the cells are told apart: they may hold a single quote sign. Their lines stay counted.
  const lines = text.split('\n').map((line) => (isRemark(line) || SAYS_SEPARATOR.test(line) ? '' : line));
  let records: readonly CsvRecord[];
  try {
    records = parse(lines.join('\n'), {
      delimiter: separator,
      info: true,
      max_record_size: LONGEST_ROW,
      relax_column_count: true,
      relax_quotes: true,
      skip_empty_lines: true,
      record_delimiter: ['\r\n', '\n', '\r'],
    }) as unknown as readonly CsvRecord[];
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const opened = openQuote(lines.join('\n'), separator);
    const line = opened ?? Number(Reflect.get(error, 'lines'));
    const given =
      opened !== null ? 'a quotation mark that is never closed' : error.message.split('\n')[0]!.slice(0, 200);
    const allowed =
      opened !== null
        ? 'both marks around the cell, and an inch mark within it twice: "16 3/8"""'
        : 'CSV as in RFC 4180';
    throw csvRefusal(file, [{ path: '', given, allowed, file, ...(line > 0 && { line }) }]);
  }
  const rows: CsvRow[] = [];
  let before = 0;
  for (const { record, info } of records) {
    const cells = record.map((cell) => cell.replace(/[\u00A0\u2007\u202F]/g, ' ').trim());
    // The parser counts to the end of a record; a cell with a line end in it makes that a later line.
    const inside = record.reduce((sum, cell) => sum + (cell.match(/\r\n|\n|\r/g)?.length ?? 0), 0);
    const line = Math.max(before + 1, info.lines - inside);
    if (cells.some((cell) => WIDE_GAP.test(cell))) {
      const given = 'a cell with 200 blanks or line ends in a row';
      throw csvRefusal(file, [{ path: '', given, allowed: 'fewer', file, line }]);
    }
    rows.push({ line, cells });
    before = info.lines;
  }
  return rows.filter((row) => !isEmpty(row));
}

/** The tables of one file, named `file` in messages. Throws PS_CSV with the line that stands in the way. */
export function readCsv(file: string, bytes: Uint8Array): CsvFile {
  if (bytes.length > CSV_BYTES) {
    throw csvRefusal(file, [
      { path: '', given: `${bytes.length} bytes or more`, allowed: `at most ${CSV_BYTES} bytes`, file },
    ]);
  }
  const text = decode(bytes).replace(MARK, '').replace(/\r\n?/g, '\n');
  const separator = separatorOf(text.split('\n', 1_000));
  const tables: CsvTable[] = [];
  let section: string | null = null;
  let open: { header: CsvRow; rows: CsvRow[] } | null = null;
  for (const row of rowsOf(file, text, separator)) {
    const name = sectionOf(row);
    if (name !== null) {
      section = name;
      open = null;
    } else if (open === null) {
      const long = row.cells.find((cell) => cell.length > LONGEST_NAME);
      if (long !== undefined) {
        const allowed = `column names of at most ${LONGEST_NAME} characters`;
        throw csvRefusal(file, [{ path: '', given: show(long), allowed, file, line: row.line }]);
      }
      open = { header: row, rows: [] };
      tables.push({ section, ...open });
    } else open.rows.push(row);
  }
  return { separator, tables };
}
