/** One table of an order: its header is matched to columns, its rows become lines of the document. */
import { cellBeyond, type HeaderUnit, headerParts, unitsOfHeader } from '../csv/header.js';
import type { CsvFile, CsvRow, CsvTable } from '../csv/read.js';
import type { InputProblem } from '../errors.js';
import { PROBLEMS_COUNTED } from '../read/limits.js';
import { pathText, show } from '../read/problems.js';
import { type CellContext, cellValue, sizeOf } from './cells.js';
import { COLUMNS, headerWord, nearest, type OrderColumn, plainWord, type TableName } from './columns.js';
import type { Origins } from './origins.js';

/** A header cell and what it stands for. */
export interface HeadColumn {
  readonly column: OrderColumn;
  readonly unit: HeaderUnit | null;
  /** As written. */
  readonly header: string;
  readonly at: number;
}

/** What a reader of tables gathers over all files of an order. */
export interface Gathering {
  readonly origins: Origins;
  readonly problems: InputProblem[];
  /** Units that headers and cells name, and whether some length names none. */
  readonly units: Set<'in' | 'mm'>;
  bare: {
    readonly file: string;
    readonly line: number;
    readonly column: string;
    readonly cell: string;
  } | null;
  /** Where in the document lengths stand that name no unit. */
  readonly bares: (readonly (string | number)[])[];
}

export interface ReadHeader {
  readonly columns: readonly HeadColumn[];
  /** Keys that an unknown column was likely meant to be. */
  readonly meant: ReadonlySet<string>;
}

/** The columns of a header; what is wrong with it goes to `problems`. */
export function readHeader(
  file: string,
  header: CsvRow,
  table: TableName,
  problems: InputProblem[],
): ReadHeader {
  const { words, usual } = COLUMNS[table];
  const isKnown = (one: string): boolean => words.has(plainWord(one));
  const named = new Set(header.cells.map((text) => words.get(plainWord(headerParts(text, isKnown).word))));
  const columns: HeadColumn[] = [];
  const meant = new Set<string>();
  for (const [at, text] of header.cells.entries()) {
    if (problems.length > PROBLEMS_COUNTED) break;
    if (text === '') continue;
    const { word, unit } = headerParts(text, isKnown);
    const column = words.get(plainWord(word));
    if (column === undefined) {
      const likely = words.get(nearest(word, words.keys()) ?? '');
      const near = likely?.path.at(-1);
      if (near !== undefined) meant.add(near);
      const hint = near === undefined ? '' : `the nearest is "${headerWord(near)}"; `;
      const allowed = `${hint}known here: ${usual.join(', ')}`;
      problems.push({ path: '', given: 'no known column', allowed, file, line: header.line, column: text });
      // Its cells are read as what was likely meant, so that what is wrong with them is told at once too.
      if (likely !== undefined && !named.has(likely))
        columns.push({ column: likely, unit, header: text, at });
      continue;
    }
    const twice = columns.find((one) => one.column === column);
    if (twice !== undefined) {
      problems.push({
        path: '',
        given: `column ${show(text)}`,
        allowed: `each column once; "${twice.header}" is the same`,
        file,
        line: header.line,
        column: text,
      });
    } else columns.push({ column, unit, header: text, at });
  }
  return { columns, meant };
}

interface TableLine {
  readonly values: Record<string, unknown>;
}

/** Where in the document the lines of a table go. */
export interface Place {
  readonly table: TableName;
  readonly first: number;
}

const CELL_UNIT = /(mm|cm|m)\.?$/i;

function noteUnits(gathering: Gathering, column: OrderColumn, unit: HeaderUnit | null, value: unknown): void {
  if (column.kind !== 'length' && column.kind !== 'size') return;
  if (unit !== null) gathering.units.add(unitsOfHeader(unit));
  else if (typeof value === 'string' && /[a-z'"′″’”]/i.test(value))
    gathering.units.add(CELL_UNIT.test(value) ? 'mm' : 'in');
}

export class RowReader {
  readonly #file: string;
  readonly #separator: CsvFile['separator'];
  readonly #gathering: Gathering;

  constructor(file: string, separator: CsvFile['separator'], gathering: Gathering) {
    this.#file = file;
    this.#separator = separator;
    this.#gathering = gathering;
  }

  /** One cell into `values`, with where it stood; `path` is that of the line in the document. */
  take(
    text: string,
    head: HeadColumn,
    row: CsvRow,
    path: readonly (string | number)[],
    put: (key: readonly string[], value: unknown) => void,
  ): void {
    const { column, unit, header } = head;
    const context: CellContext = { decimalComma: this.#separator !== ',', unit };
    const origin = { file: this.#file, line: row.line, column: header, cell: text };
    const gathering = this.#gathering;
    const one = (key: readonly string[], { value, bare, refused }: ReturnType<typeof cellValue>): void => {
      put(key, value);
      gathering.origins.set([...path, ...key], origin);
      noteUnits(gathering, column, unit, value);
      if (bare === true) {
        gathering.bare ??= origin;
        gathering.bares.push([...path, ...key]);
      }
      if (refused === undefined) return;
      gathering.origins.told([...path, ...key]);
      gathering.problems.push({
        path: pathText([...path, ...key]),
        given: show(text),
        allowed: refused,
        file: this.#file,
        line: row.line,
        column: header,
      });
    };
    if (column.kind !== 'size') {
      one(column.path, cellValue(text, column, context));
      return;
    }
    const sides = sizeOf(text, context);
    const refused = { value: text, refused: 'a width and a height as in "16 x 20"' };
    one(['width'], sides?.[0] ?? refused);
    one(['height'], sides?.[1] ?? { value: text });
    if (sides === null) gathering.origins.told([...path, 'height']);
  }

  /** The rows of a list; `first` is the number of lines of the document before them. */
  lines(
    table: CsvTable,
    list: TableName,
    columns: readonly HeadColumn[],
    first: number,
  ): readonly TableLine[] {
    const { origins, problems } = this.#gathering;
    return table.rows.map((row, i): TableLine => {
      const path = [list, first + i];
      const values: Record<string, unknown> = {};
      origins.set(path, { file: this.#file, line: row.line });
      for (const head of columns) {
        const text = row.cells[head.at] ?? '';
        if (text === '') continue;
        this.take(text, head, row, path, ([key], value) => {
          values[key!] = value;
        });
      }
      const beyond = cellBeyond(this.#file, this.#separator, table.header, row);
      if (beyond !== null) problems.push(beyond);
      return { values };
    });
  }
}
