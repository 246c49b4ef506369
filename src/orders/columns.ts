/**
 * The tables of an order and their columns. Columns are the fields of the batch document, taken from its schema, so a
 * field added there is a column here. Header words are those of the trade, in any order and case; white space and
 * signs between them count for nothing.
 */
import { distance } from 'fastest-levenshtein';
import * as z from 'zod';
import { batchSchema } from '../documents/batch/schema.js';
import { isLengthField } from '../read/fields.js';

/** How a cell becomes a value of the document. */
export type CellKind =
  | 'text'
  | 'length'
  | 'number'
  | 'flag'
  | 'choice'
  | 'spans'
  | 'words'
  | 'breaks'
  | 'counts'
  | 'size';

export interface OrderColumn {
  /** Where in the document's line, or of settings in the document, the value goes. */
  readonly path: readonly string[];
  readonly kind: CellKind;
  /** Of a choice. */
  readonly choices: readonly string[];
}

/** Lists of the batch that are tables of an order; `settings` is everything else: saw, labour, options, id, units. */
export type TableName = 'frames' | 'mouldings' | 'sticks' | 'offers' | 'gauges' | 'suppliers' | 'settings';
export type ListName = Exclude<TableName, 'settings'>;

export const LISTS: readonly ListName[] = ['frames', 'mouldings', 'sticks', 'offers', 'gauges', 'suppliers'];

/** What a file or a section may be called, the usual name first. */
export const TABLE_WORDS: Readonly<Record<TableName, readonly string[]>> = {
  frames: ['frames', 'frame', 'order', 'orders'],
  mouldings: ['mouldings', 'moulding', 'moldings', 'molding'],
  sticks: ['rack', 'sticks', 'stick'],
  offers: ['offers', 'offer'],
  gauges: ['gauges', 'gauge', 'gauge sticks'],
  suppliers: ['suppliers', 'supplier'],
  settings: ['saw', 'settings', 'shop', 'options', 'labour'],
};

/** Other words for a column, as people write them. */
const NOTES = ['notes', 'comment', 'comments', 'remark', 'remarks', 'customer'];
const SYNONYMS: Readonly<Record<TableName, Readonly<Record<string, readonly string[]>>>> = {
  frames: {
    id: ['frame', 'order', 'order line', 'line', 'number', 'no', 'name', 'tag'],
    quantity: ['qty', 'pieces', 'copies', 'how many', 'frames'],
    moulding: ['molding', 'profile'],
    width: ['w'],
    height: ['h'],
    size: ['sizes', 'width x height', 'w x h'],
    measuredBy: ['measured', 'size of', 'size is of'],
    due: ['due date', 'needed', 'needed by', 'wanted by'],
  },
  mouldings: { id: ['moulding', 'molding', 'profile', 'name'], face: ['face width'], rabbet: ['rebate'] },
  sticks: {
    id: ['stick', 'piece', 'name', 'number', 'no'],
    moulding: ['molding', 'profile'],
    quantity: ['qty', 'pieces', 'how many'],
    flaws: ['flaw'],
  },
  offers: {
    id: ['offer', 'article', 'item', 'name', 'number', 'no'],
    moulding: ['molding', 'profile'],
    price: ['price each', 'price a piece', 'cost'],
    available: ['in stock', 'stock'],
    breaks: ['price breaks', 'price break'],
  },
  gauges: { id: ['gauge', 'gauge stick', 'name', 'number', 'no'], length: ['setting'] },
  suppliers: { id: ['supplier', 'name'] },
  settings: { id: ['batch', 'order', 'batch id', 'order id'] },
};

/** Letters and digits only, small: `Measured by`, `measured_by` and `measuredBy` are one word. */
export function plainWord(word: string): string {
  return word
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]/g, '');
}

/** `measuredBy` as a person writes it in a header: `measured by`. */
export function headerWord(key: string): string {
  return key.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`);
}

function bare(schema: z.core.$ZodType): z.core.$ZodType {
  if (schema instanceof z.ZodOptional || schema instanceof z.ZodNullable) return bare(schema.def.innerType);
  return schema instanceof z.ZodPrefault ? bare(schema.def.innerType) : schema;
}

function listKind(element: z.core.$ZodType): CellKind {
  if (element instanceof z.ZodTuple) return 'spans';
  return element instanceof z.ZodObject ? 'breaks' : 'counts';
}

function columnOf(path: readonly string[], wrapped: z.core.$ZodType): OrderColumn {
  const schema = bare(wrapped);
  const plain = (kind: CellKind): OrderColumn => ({ path, kind, choices: [] });
  if (isLengthField(schema)) return plain('length');
  const inner = schema instanceof z.ZodPipe ? bare(schema.def.in) : schema;
  if (inner instanceof z.ZodBoolean) return plain('flag');
  if (inner instanceof z.ZodEnum) return { path, kind: 'choice', choices: inner.options.map(String) };
  if (inner instanceof z.ZodArray) return plain(listKind(bare(inner.element)));
  if (inner instanceof z.ZodTuple) return plain('words');
  const number = inner instanceof z.ZodNumber || inner instanceof z.ZodUnion;
  return plain(number ? 'number' : 'text');
}

/** Columns by their plain words; `usual` is how the header of each is written. */
export interface Columns {
  readonly words: ReadonlyMap<string, OrderColumn>;
  readonly usual: readonly string[];
}

function listColumns(list: ListName, element: z.ZodObject): Columns {
  const words = new Map<string, OrderColumn>();
  const usual: string[] = [];
  for (const [key, field] of Object.entries(element.shape)) {
    const column = columnOf([key], field);
    words.set(plainWord(key), column);
    usual.push(headerWord(key));
  }
  if (list === 'frames') {
    words.set('size', { path: ['size'], kind: 'size', choices: [] });
    // When the whole order is needed, as its rows say it.
    words.set('due', { path: ['due'], kind: 'text', choices: [] });
    usual.push('size', 'due');
  }
  for (const [key, others] of Object.entries({ ...SYNONYMS[list], note: NOTES })) {
    const column = words.get(plainWord(key));
    for (const other of others)
      if (column !== undefined && !words.has(plainWord(other))) words.set(plainWord(other), column);
  }
  return { words, usual };
}

/** `saw.kerf` is the setting `kerf`, and also `saw kerf`. */
function settingColumns(shape: Readonly<Record<string, z.core.$ZodType>>): Columns {
  const words = new Map<string, OrderColumn>();
  const usual: string[] = [];
  const take = (path: readonly string[], field: z.core.$ZodType): void => {
    const column = columnOf(path, field);
    words.set(plainWord(path.join('')), column);
    const last = path.at(-1)!;
    if (!words.has(plainWord(last))) words.set(plainWord(last), column);
    usual.push(headerWord(last));
  };
  for (const [key, wrapped] of Object.entries(shape)) {
    const field = bare(wrapped);
    if (key === 'schema' || field instanceof z.ZodArray) continue;
    if (field instanceof z.ZodObject)
      for (const [name, inner] of Object.entries(field.shape)) take([key, name], inner);
    else take([key], field);
  }
  for (const word of SYNONYMS.settings.id ?? []) words.set(plainWord(word), words.get('id')!);
  return { words, usual };
}

function columnsOf(): Readonly<Record<TableName, Columns>> {
  // Columns and their kinds are the same for both units.
  const { shape } = batchSchema('mm');
  const list = (name: ListName): Columns => {
    const array = bare(shape[name]);
    const element = array instanceof z.ZodArray ? bare(array.element) : array;
    if (!(element instanceof z.ZodObject)) throw new TypeError(`${name} is no list of objects`);
    return listColumns(name, element);
  };
  return {
    frames: list('frames'),
    mouldings: list('mouldings'),
    sticks: list('sticks'),
    offers: list('offers'),
    gauges: list('gauges'),
    suppliers: list('suppliers'),
    settings: settingColumns(shape),
  };
}

export const COLUMNS = columnsOf();

/** The table a file or a section is of, by its name; null: none. */
export function tableNamed(word: string): TableName | null {
  const plain = plainWord(word);
  for (const [table, words] of Object.entries(TABLE_WORDS)) {
    if (words.some((one) => plainWord(one) === plain)) return table as TableName;
  }
  return null;
}

/** Beyond half of its letters another word is no slip of the pen. */
const SLIP = 0.5;

/** The word that was likely meant; null: none is near. */
export function nearest(given: string, words: Iterable<string>): string | null {
  const plain = plainWord(given);
  let best: { readonly word: string; readonly far: number } | null = null;
  for (const word of words) {
    const far = distance(plain, plainWord(word)) / Math.max(1, plain.length, plainWord(word).length);
    if (far <= SLIP && (best === null || far < best.far)) best = { word, far };
  }
  return best?.word ?? null;
}
