/**
 * An order as an office has it: tables in CSV, each a file or a section, become a batch document. The document is then
 * read like any other; what is wrong is told by file, line and column.
 */
import { type CsvTable, readCsv } from '../csv/read.js';
import { checkBatch } from '../documents/batch/read.js';
import type { BatchDocument } from '../documents/batch/schema.js';
import { type InputProblem, PairstopError } from '../errors.js';
import type { Batch } from '../terms.js';
import {
  COLUMNS,
  headerWord,
  LISTS,
  type ListName,
  nearest,
  TABLE_WORDS,
  type TableName,
  tableNamed,
} from './columns.js';
import { OrderDue } from './due.js';
import { Origins, refusalOf } from './origins.js';
import { readSettings } from './settings.js';
import { type Gathering, type ReadHeader, RowReader, readHeader } from './table.js';

export interface OrderFile {
  /** As messages name it. */
  readonly name: string;
  readonly bytes: Uint8Array;
  /** What the table before any section is. */
  readonly table: TableName;
}

export interface OrderGiven {
  /** The batch's id where the files name none. */
  readonly id: string;
  /** The batch's id whatever the files say. */
  readonly askedId?: string;
  readonly units?: string;
}

export interface ReadOrder {
  readonly document: BatchDocument;
  readonly batch: Batch;
  /** A refusal that speaks of the document, as one that speaks of the files. */
  readonly placed: (error: PairstopError) => PairstopError;
}

const WHAT = 'the order is refused';

type Lines = Record<string, unknown>[];

/** Fields without which a line of a list says nothing; frames have a size in one of two forms. */
const NEEDED: Readonly<Record<ListName, readonly string[]>> = {
  frames: ['moulding'],
  mouldings: ['id', 'face', 'rabbet'],
  sticks: ['moulding', 'length'],
  offers: ['moulding', 'length'],
  gauges: ['length'],
  suppliers: ['id'],
};

/** What a line without an id of its own is called, by its line in the file. */
const NAMED: Partial<Record<ListName, string>> = {
  frames: '',
  sticks: 'rack ',
  offers: 'offer ',
  gauges: 'gauge ',
};

class OrderTables {
  readonly lists: Record<ListName, Lines> = {
    frames: [],
    mouldings: [],
    sticks: [],
    offers: [],
    gauges: [],
    suppliers: [],
  };
  readonly settings: Record<string, unknown> = {};
  readonly gathering: Gathering = {
    origins: new Origins(),
    problems: [],
    units: new Set(),
    bare: null,
    bares: [],
  };
  readonly #files = new Map<ListName, string>();
  readonly #due = new OrderDue();
  /** Lines whose moulding stands in no column, to be given the only one there is. */
  readonly #unsaid: { readonly list: ListName; readonly line: number; readonly meant: boolean }[] = [];

  take({ name, bytes, table }: OrderFile): void {
    const { separator, tables } = readCsv(name, bytes);
    for (const one of tables) {
      const of = one.section === null ? table : tableNamed(one.section);
      const reader = new RowReader(name, separator, this.gathering);
      if (of === null) this.#noSection(name, one);
      else if (of === 'settings') readSettings(name, one, reader, this.settings, this.gathering);
      else this.#list(name, one, of, reader);
    }
    if (tables.length === 0)
      this.#add({ path: '', given: 'an empty file', allowed: 'a header line and rows below it', file: name });
  }

  #add(problem: InputProblem): void {
    this.gathering.problems.push(problem);
  }

  /** Problems of this field are no news in any of these lines. */
  #told(list: ListName, first: number, count: number, key: string): void {
    for (let i = 0; i < count; i++) this.gathering.origins.told([list, first + i, key]);
  }

  #noSection(file: string, { section, header }: CsvTable): void {
    const usual = Object.values(TABLE_WORDS).map(([first]) => first!);
    const near = nearest(section ?? '', usual);
    this.#add({
      path: '',
      given: `section [${section ?? ''}]`,
      allowed: `${near === null ? '' : `the nearest is [${near}]; `}${usual.map((word) => `[${word}]`).join(', ')}`,
      file,
      line: header.line - 1,
    });
  }

  #list(file: string, table: CsvTable, list: ListName, reader: RowReader): void {
    const head = readHeader(file, table.header, list, this.gathering.problems);
    const { columns } = head;
    const first = this.lists[list].length;
    const lines = reader.lines(table, list, columns, first).map(({ values }) => values);
    this.#files.set(list, file);
    this.#missing(file, table, list, head, first);
    const has = (key: string): boolean => columns.some(({ column }) => column.path[0] === key);
    for (const [i, values] of lines.entries()) {
      const word = NAMED[list];
      if (!has('id') && word !== undefined) values.id = `${word}${table.rows[i]!.line}`;
      if (!has('moulding') && NEEDED[list].includes('moulding')) {
        this.#unsaid.push({ list, line: first + i, meant: head.meant.has('moulding') });
      }
      if (list === 'frames') this.#due.take(values, [list, first + i], this.gathering);
      this.lists[list].push(values);
    }
  }

  /** Columns that are not there are told once, not for each row. */
  #missing(
    file: string,
    table: CsvTable,
    list: ListName,
    { columns, meant }: ReadHeader,
    first: number,
  ): void {
    const has = (key: string): boolean => columns.some(({ column }) => column.path[0] === key);
    const needed = NEEDED[list].filter((key) => key !== 'moulding' && !has(key));
    if (list === 'frames' && !['width', 'height', 'side', 'sides', 'size'].some(has))
      needed.push('width', 'height');
    else if (list === 'frames' && has('width') !== has('height'))
      needed.push(has('width') ? 'height' : 'width');
    for (const key of needed) {
      this.#told(list, first, table.rows.length, key);
      // The unknown column that is nearest to it has been told with this one as what was meant.
      if (meant.has(key)) continue;
      const given = table.header.cells.filter((cell) => cell !== '').join(', ');
      const usual = COLUMNS[list].usual.join(', ');
      this.#add({
        path: list,
        given: `columns ${given}`,
        allowed: `also a column "${headerWord(key)}"; known here: ${usual}`,
        file,
        line: table.header.line,
      });
    }
    // Without a size the line itself is refused, at its own path.
    if (needed.includes('width')) {
      for (const i of table.rows.keys()) this.gathering.origins.toldItself([list, first + i]);
    }
  }

  /** Lines that name no moulding are of the only one. */
  #mouldings(): void {
    const { mouldings } = this.lists;
    const only = mouldings.length === 1 ? mouldings[0]!.id : undefined;
    const told = new Set<ListName>();
    if (mouldings.some(({ id }) => id === undefined)) {
      for (const list of LISTS) this.#told(list, 0, this.lists[list].length, 'moulding');
    }
    for (const { list, line, meant } of this.#unsaid) {
      if (only !== undefined) this.lists[list][line]!.moulding = only;
      else {
        this.gathering.origins.told([list, line, 'moulding']);
        if (!meant && mouldings.length > 0 && !told.has(list))
          this.#add({
            path: list,
            given: 'no column "moulding"',
            allowed: 'a column "moulding": the order has more than one',
            file: this.#files.get(list) ?? '',
          });
        told.add(list);
      }
    }
  }

  /** Said by the command line, by a setting, or by every length there is; never guessed for a bare number. */
  #units(given: string | undefined): void {
    const { units, bare } = this.gathering;
    if (given !== undefined) this.settings.units = given;
    if (this.settings.units !== undefined) return;
    const [only] = units;
    if (only !== undefined && bare === null) {
      this.settings.units = units.size === 1 ? only : 'mm';
      return;
    }
    this.gathering.origins.told(['units']);
    // What is wrong with a length cannot be known without its unit; the others are spoken of in the one unit there is.
    for (const path of this.gathering.bares) this.gathering.origins.told(path);
    if (units.size === 1) this.settings.units = only;
    this.#add({
      path: 'units',
      given: bare === null ? 'no units' : `${JSON.stringify(bare.cell)}, which says no unit`,
      allowed:
        'a unit in the header, "width (in)", or in the cell, "16 in"; or --units in or mm for all that say none',
      ...(bare !== null && { file: bare.file, line: bare.line, column: bare.column }),
    });
  }

  /** Suppliers that only the offers name, where there is no table of them. */
  #suppliers(): void {
    const { offers, suppliers } = this.lists;
    if (suppliers.length > 0) return;
    const names = new Set(offers.map(({ supplier }) => supplier).filter((name) => typeof name === 'string'));
    for (const id of names) suppliers.push({ id });
  }

  document(given: OrderGiven): Record<string, unknown> {
    this.#mouldings();
    this.#suppliers();
    this.#due.put(this.settings, this.gathering);
    this.#units(given.units);
    if (this.lists.mouldings.length === 0) {
      this.gathering.origins.told(['mouldings']);
      for (const list of LISTS) this.#told(list, 0, this.lists[list].length, 'moulding');
      this.#add({
        path: 'mouldings',
        given: 'no table of mouldings',
        allowed:
          'id, face and rabbet of each: a file mouldings.csv in the folder, --mouldings FILE, or a section [mouldings]',
      });
    }
    if (this.lists.frames.length === 0) {
      this.gathering.origins.told(['frames']);
      const file = this.#files.get('frames');
      this.#add({
        path: 'frames',
        given: 'no frames',
        allowed: 'one row a frame below the header',
        ...(file !== undefined && { file }),
      });
    }
    const lists = LISTS.flatMap((list) =>
      this.lists[list].length === 0 ? [] : [[list, this.lists[list]] as const],
    );
    const { id = given.id, units, ...settings } = this.settings;
    return {
      schema: 'pairstop/batch@1',
      id: given.askedId ?? id,
      ...(units !== undefined && { units }),
      ...settings,
      ...Object.fromEntries(lists),
    };
  }
}

/** Throws PS_CSV for a file that cannot be taken apart, PS_BATCH with every problem of the files and what they say. */
export function readOrderFiles(files: readonly OrderFile[], given: OrderGiven): ReadOrder {
  const order = new OrderTables();
  for (const file of files) order.take(file);
  const document = order.document(given);
  const { origins, problems } = order.gathering;
  const placed = (error: PairstopError): PairstopError => origins.refusal(error, [], document);
  let batch: Batch | null = null;
  try {
    batch = checkBatch(document);
  } catch (error) {
    if (!(error instanceof PairstopError)) throw error;
    const refused = origins.refusal(error, problems, document);
    if (refused.problems.length > 0) throw refused;
  }
  if (problems.length > 0) throw refusalOf('PS_BATCH', WHAT, problems);
  if (batch === null) throw new PairstopError('PS_INTERNAL', 'an order was refused without a reason');
  return { document: document as unknown as BatchDocument, batch, placed };
}

/** The mouldings of one file, as the document has them. Throws as above. */
export function readMouldings(file: OrderFile): readonly Readonly<Record<string, unknown>>[] {
  const order = new OrderTables();
  order.take(file);
  const { problems } = order.gathering;
  if (problems.length > 0) throw refusalOf('PS_BATCH', WHAT, problems);
  return order.lists.mouldings;
}
