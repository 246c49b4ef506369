/** A rack as a spreadsheet's table: the document's fields as columns, lengths with their units in the cell or the header. */
import { pointed } from '../../csv/decimal.js';
import { cellBeyond, type HeaderUnit, headerParts, unitsOfHeader } from '../../csv/header.js';
import { type CsvRow, csvRefusal, readCsv } from '../../csv/read.js';
import { csvText } from '../../csv/write.js';
import type { InputProblem } from '../../errors.js';
import { supplyUm } from '../../lengths/exact.js';
import { LENGTH_FORMS, tryParseLength, unitsIn } from '../../lengths/parse.js';
import { tryParseSpan } from '../../lengths/span.js';
import { show } from '../../read/problems.js';
import type { PieceEnd, Um, Units } from '../../terms.js';
import { checkRackDocument, type RackRow, type RackStanding } from './schema.js';

const COLUMNS = ['id', 'moulding', 'length', 'left end', 'right end', 'flaws', 'value', 'place'] as const;
/** Written for people who look at the table; not read. */
const TOLD = ['state', 'batch'] as const;
type RackColumn = (typeof COLUMNS)[number] | (typeof TOLD)[number];

/** Those that hold lengths. */
const LENGTHS: ReadonlySet<RackColumn> = new Set(['length', 'flaws']);
const ENDS_IN_UNIT = /[a-z'"′″’”]\.?$/i;

interface RackColumns {
  readonly at: ReadonlyMap<RackColumn, number>;
  /** Units of columns, where their headers give one. */
  readonly units: ReadonlyMap<RackColumn, HeaderUnit>;
}

function columnsOf(file: string, header: CsvRow, needed: readonly RackColumn[]): RackColumns {
  const at = new Map<RackColumn, number>();
  const problems: InputProblem[] = [];
  const units = new Map<RackColumn, HeaderUnit>();
  const known: readonly RackColumn[] = [...COLUMNS, ...TOLD];
  const columnOf = (word: string) => known.find((one) => one === word.trim().toLowerCase());
  header.cells.forEach((cell, i) => {
    if (cell === '') return;
    const { word, unit } = headerParts(cell, (whole) => columnOf(whole) !== undefined);
    const column = columnOf(word);
    if (column === undefined || at.has(column)) {
      const allowed = `one of ${known.join(', ')}, each once; behind length and flaws a unit, as in "length (mm)"`;
      problems.push({ path: 'header', given: show(cell), allowed, file, line: header.line });
      return;
    }
    at.set(column, i);
    if (unit !== null) units.set(column, unit);
  });
  for (const column of needed) {
    if (at.has(column)) continue;
    problems.push({
      path: 'header',
      given: 'nothing',
      allowed: `a column ${column}`,
      file,
      line: header.line,
    });
  }
  if (problems.length > 0) throw csvRefusal(file, problems);
  return { at, units };
}

function flawsOf(text: string, units: Units): (readonly [Um, Um])[] | null {
  const found: (readonly [Um, Um])[] = [];
  for (const part of text.split(/\s*;\s*/)) {
    if (part === '') continue;
    const span = tryParseSpan(part, units);
    if (span === null) return null;
    found.push(span);
  }
  return found;
}

/** A row of a count: a field that was not looked at is absent. */
export interface CountedRow {
  readonly id: string;
  readonly moulding?: string;
  readonly length?: Um;
  readonly place?: string;
}

interface Cells {
  readonly line: number;
  readonly text: (column: RackColumn) => string;
  /** Of a length, money or flaws, with decimal points and the unit of its column; null: its comma is no decimal sign, and that is among the problems. */
  readonly measured: (column: RackColumn) => string | null;
}

function rowsOf(file: string, bytes: Uint8Array, needed: readonly RackColumn[]) {
  const { tables, separator } = readCsv(file, bytes);
  const [table] = tables;
  if (table === undefined) {
    throw csvRefusal(file, [
      { path: '', given: 'nothing', allowed: `a table with ${needed.join(', ')}`, file },
    ]);
  }
  const { at, units } = columnsOf(file, table.header, needed);
  const problems: InputProblem[] = [];
  const own = units.get('length') ?? null;
  const withUnit = (column: RackColumn, text: string): string => {
    const unit = LENGTHS.has(column) ? (units.get(column) ?? own) : null;
    const bare = (part: string): boolean => part !== '' && !ENDS_IN_UNIT.test(part);
    if (unit === null) return text;
    return text
      .split(/\s*;\s*/)
      .map((part) => (bare(part) ? `${part} ${unit}` : part))
      .join('; ');
  };
  const rows = table.rows.map((row): Cells => {
    const { line, cells } = row;
    const beyond = cellBeyond(file, separator, table.header, row);
    if (beyond !== null) problems.push(beyond);
    // Undoes the apostrophe that keeps a spreadsheet from taking the text for a formula.
    const text = (column: RackColumn): string =>
      (cells[at.get(column) ?? -1] ?? '').replace(/^'(?=[=+\-@])/, '');
    const measured = (column: RackColumn): string | null => {
      const point = pointed(text(column), separator !== ',');
      if ('text' in point) return withUnit(column, point.text);
      problems.push({ path: column, given: show(text(column)), allowed: point.refused, file, line, column });
      return null;
    };
    return { line, text, measured };
  });
  return { rows, units: own === null ? null : unitsOfHeader(own), problems };
}

/** Pieces, and the units in which their lengths were given. */
export interface RackTable {
  readonly rows: readonly RackRow[];
  readonly units: Units;
}

/** `units` apply to lengths without a unit. Throws PS_CSV listing every problem with its line. */
export function readRackCsv(file: string, bytes: Uint8Array, units: Units): RackTable {
  const { rows, units: said, problems } = rowsOf(file, bytes, ['id', 'moulding', 'length']);
  const own = said ?? units;
  const pieces = rows.flatMap(({ line, text, measured }): RackRow[] => {
    const wrong = (column: RackColumn, allowed: string): void => {
      problems.push({ path: column, given: show(text(column)), allowed, file, line, column });
    };
    const given = { length: measured('length'), flaws: measured('flaws'), value: measured('value') };
    const length = given.length === null ? null : tryParseLength(given.length, own);
    const flaws = given.flaws === null ? null : flawsOf(given.flaws, own);
    const value = given.value === null || given.value === '' ? null : Number(given.value);
    const ends = (['left end', 'right end'] as const).map((column): PieceEnd => {
      const end = text(column).toLowerCase();
      if (end === '' || end === 'raw') return 'raw';
      if (end === 'sawn' || end === 'mitred') return end;
      wrong(column, 'raw, sawn, mitred, or nothing');
      return 'raw';
    });
    if (text('id') === '') wrong('id', 'an id');
    if (text('moulding') === '') wrong('moulding', 'the id of a moulding');
    if (given.length !== null && length === null) wrong('length', LENGTH_FORMS[own]);
    if (given.flaws !== null && flaws === null)
      wrong('flaws', 'from and to, as in 20 to 23 1/2; several with ; between');
    if (value !== null && !(value >= 0)) wrong('value', 'money, or nothing');
    if (problems.length > 0 || length === null || flaws === null) return [];
    return [
      {
        id: text('id'),
        moulding: text('moulding'),
        length: supplyUm(length),
        ends: [ends[0]!, ends[1]!],
        flaws,
        value: value === null ? null : Math.round(value * 100),
        place: text('place') === '' ? null : text('place'),
      },
    ];
  });
  if (problems.length > 0) throw csvRefusal(file, problems);
  const metric = rows.filter(({ text }) => (unitsIn(text('length')) ?? own) === 'mm').length;
  // The rules for a rack are in one place: the schema.
  const checked = checkRackDocument({
    schema: 'pairstop/rack@1',
    units: 'mm',
    pieces: pieces.map((piece) => ({
      ...piece,
      length: piece.length / 1000,
      flaws: piece.flaws.map(([from, to]) => [from / 1000, to / 1000]),
      value: piece.value === null ? null : piece.value / 100,
    })),
  });
  return { rows: checked, units: 2 * metric > rows.length ? 'mm' : 'in' };
}

/** What was found at a stocktaking: ids, and what else the table has. Throws PS_CSV. */
export function readCountCsv(file: string, bytes: Uint8Array, units: Units): readonly CountedRow[] {
  const { rows, units: said, problems } = rowsOf(file, bytes, ['id']);
  const own = said ?? units;
  const counted = rows.map(({ line, text, measured }): CountedRow => {
    const given = measured('length');
    const length = given === null || given === '' ? undefined : tryParseLength(given, own);
    const [id, moulding, place] = [text('id'), text('moulding'), text('place')];
    if (id === '') problems.push({ path: 'id', given: 'nothing', allowed: 'an id', file, line });
    if (length === null) {
      problems.push({
        path: 'length',
        given: show(text('length')),
        allowed: LENGTH_FORMS[own],
        file,
        line,
        column: 'length',
      });
    }
    return {
      id,
      ...(moulding !== '' && { moulding }),
      ...(length != null && { length: supplyUm(length) }),
      ...(place !== '' && { place }),
    };
  });
  if (problems.length > 0) throw csvRefusal(file, problems);
  return counted;
}

/** For a spreadsheet, lengths in millimetres. */
export function rackCsv(pieces: readonly RackStanding[]): string {
  const header = [...COLUMNS, ...TOLD].map((column) => (column === 'length' ? 'length (mm)' : column));
  const rows = pieces.map(({ id, moulding, length, ends, flaws, value, place, state }) => [
    id,
    moulding,
    length / 1000,
    ends[0],
    ends[1],
    flaws.map(([from, to]) => `${from / 1000} to ${to / 1000}`).join('; '),
    value === null ? null : value / 100,
    place,
    state.kind,
    state.batch ?? null,
  ]);
  return csvText(header, rows);
}
