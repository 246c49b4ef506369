/** How every command takes an order: a batch in JSON, a CSV file with the others beside it, or a folder of them. */
import { readdir, stat } from 'node:fs/promises';
import { basename, dirname, extname, join, resolve } from 'node:path';
import type { Command } from 'commander';
import { CSV_BYTES } from '../../csv/read.js';
import { readBatchDocument } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import { nearest, TABLE_WORDS, type TableName, tableNamed } from '../../orders/columns.js';
import { type OrderFile, readOrderFiles } from '../../orders/order.js';
import { BATCH_BYTES } from '../../read/limits.js';
import { show } from '../../read/problems.js';
import { readInput, STANDARD } from '../files.js';
import { choose, type OfferChoices, type OrderInput } from './order-choices.js';

/** The files beside that of the frames, by the option that names them. */
const BESIDE = {
  mouldings: 'mouldings',
  rack: 'sticks',
  offers: 'offers',
  gauges: 'gauges',
  suppliers: 'suppliers',
  saw: 'settings',
} as const satisfies Readonly<Record<string, TableName>>;

type Beside = keyof typeof BESIDE;

export interface OrderOptions extends OfferChoices {
  readonly mouldings?: string;
  readonly rack?: string;
  /** Files of offers, or ids of those that may be bought. */
  readonly offers?: readonly string[];
  readonly gauges?: string;
  readonly suppliers?: string;
  readonly saw?: string;
  readonly units?: string;
  readonly id?: string;
}

const CSV_ENDS: ReadonlySet<string> = new Set(['.csv', '.tsv', '.txt']);

function isCsv(path: string): boolean {
  return CSV_ENDS.has(extname(path).toLowerCase());
}

function collect(value: string, before: readonly string[] = []): readonly string[] {
  return [...before, value];
}

/** The options of every command that takes an order. */
export function addOrderOptions(command: Command): Command {
  return command
    .argument(
      '<order>',
      'a batch in JSON, the frames in CSV, a folder with frames.csv, mouldings.csv, rack.csv, offers.csv, saw.csv, or - for standard input',
    )
    .option('--mouldings <file>', 'CSV: id, face, rabbet …')
    .option('--rack <file>', 'CSV: id, moulding, length, quantity, flaws …')
    .option(
      '--offers <file or ids>',
      'CSV: id, moulding, length, price …; or ids with commas between: buy only from these',
      collect,
    )
    .option('--saw <file>', 'CSV: setting, value: kerf, recut, stop step, time limit …')
    .option('--gauges <file>', 'CSV: id, length')
    .option('--suppliers <file>', 'CSV: id, minimum order')
    .option('--units <units>', 'in or mm: what a number without a unit means in CSV')
    .option('--id <id>', "CSV: the batch's id (the name of the file or folder unless given)")
    .option('--supplier <id>', 'buy only from this supplier')
    .option('--as-compared <file>', 'buy only what this comparison (compare --out) recommends')
    .option('--skip-impossible', 'plan the rest where a frame cannot be cut from anything; exit 3');
}

async function isFolder(path: string): Promise<boolean> {
  if (path === STANDARD) return false;
  return (await stat(path).catch(() => null))?.isDirectory() ?? false;
}

async function csvFile(path: string, table: TableName): Promise<OrderFile> {
  const name = path === STANDARD ? 'standard input' : path;
  return { name, bytes: await readInput(path, CSV_BYTES), table };
}

/** The tables of a folder, each in a file of its name. Throws PS_CSV for any other CSV file, which would silently be left out. */
async function folderFiles(path: string): Promise<readonly OrderFile[]> {
  const names = (await readdir(path))
    .filter((name) => ['.csv', '.tsv'].includes(extname(name).toLowerCase()))
    .sort();
  const usual = Object.values(TABLE_WORDS).map(([first]) => `${first}.csv`);
  const files = names.map((name) => ({ name, table: tableNamed(basename(name, extname(name))) }));
  const strange = files.filter(({ table }) => table === null);
  if (strange.length > 0 || names.length === 0) {
    const problems = strange.map(({ name }) => {
      const near = nearest(name, usual);
      return {
        path: '',
        given: show(name),
        allowed: `${near === null ? '' : `the nearest is ${near}; `}${usual.join(', ')}`,
        file: join(path, name),
      };
    });
    const lines = problems.map(({ given, allowed }) => `${path}: given ${given}; allowed: ${allowed}`);
    if (names.length === 0) lines.push(`${path}: given no CSV file; allowed: ${usual.join(', ')}`);
    throw new PairstopError('PS_CSV', `the folder is no order\n${lines.join('\n')}`, problems);
  }
  return Promise.all(files.map(({ name, table }) => csvFile(join(path, name), table!)));
}

/** A name without its ending, for a batch that is given no id. */
function nameOf(path: string): string {
  if (path === STANDARD) return 'order';
  const name = basename(resolve(path));
  return isCsv(name) ? basename(name, extname(name)) : name;
}

function besideOf(options: OrderOptions): readonly (readonly [Beside, string])[] {
  const keys = Object.keys(BESIDE) as Beside[];
  return keys.flatMap((key): (readonly [Beside, string])[] => {
    const given = options[key];
    if (given === undefined) return [];
    if (typeof given === 'string') return [[key, given]];
    return given.filter(isCsv).map((path) => [key, path]);
  });
}

interface Taken extends OrderInput {
  readonly placed: (error: PairstopError) => PairstopError;
}

function usage(message: string): PairstopError {
  return new PairstopError('PS_USAGE', message);
}

/** On standard input nothing names the kind: a header or a section is CSV, anything else is for the JSON reader to judge. */
function looksLikeCsv(bytes: Uint8Array): boolean {
  const begin = new TextDecoder()
    .decode(bytes.subarray(0, 1_000))
    .replace(/^\uFEFF/, '')
    .trimStart();
  return /^(\[[A-Za-z]|#|sep=|[^{[\n]*[,;\t])/.test(begin);
}

async function take(path: string, options: OrderOptions): Promise<Taken> {
  const beside = besideOf(options);
  const folder = await isFolder(path);
  const first = folder ? null : await readInput(path, BATCH_BYTES);
  const csv = first === null || isCsv(path) || (path === STANDARD && looksLikeCsv(first));
  if (!csv) {
    const [other] = beside;
    const said =
      other?.[0] ?? (options.units === undefined ? (options.id === undefined ? null : 'id') : 'units');
    if (said !== null) throw usage(`--${said}: goes with an order in CSV; a batch in JSON says it itself`);
    return { ...readBatchDocument(first), path, placed: (error) => error };
  }
  if ([path, ...beside.map(([, file]) => file)].filter((one) => one === STANDARD).length > 1) {
    throw usage('only one file of an order can come from standard input');
  }
  if (options.units !== undefined && options.units !== 'in' && options.units !== 'mm') {
    throw usage(`--units: given ${show(options.units)}; allowed: in, mm`);
  }
  const own =
    first === null
      ? await folderFiles(path)
      : [{ name: path === STANDARD ? 'standard input' : path, bytes: first, table: 'frames' as const }];
  const others = await Promise.all(beside.map(([key, file]) => csvFile(file, BESIDE[key])));
  // A file named on the command line replaces the one in the folder.
  const replaced = new Set(others.map(({ table }) => table));
  const files = [...own.filter(({ table }) => first !== null || !replaced.has(table)), ...others];
  const order = readOrderFiles(files, {
    id: options.id ?? nameOf(path === STANDARD ? path : folder ? path : join(dirname(path), basename(path))),
    ...(options.units !== undefined && { units: options.units }),
  });
  return { ...order, path };
}

/**
 * Reads the order and does `work` with it. Where the order came from CSV, a refusal of the batch names file, line and
 * column. Throws PS_FILE, PS_JSON, PS_CSV, PS_BATCH, PS_USAGE.
 */
export async function withOrder<T>(
  path: string,
  options: OrderOptions,
  work: (order: OrderInput) => Promise<T>,
): Promise<T> {
  const taken = await take(path, options);
  try {
    const ids = options.offers?.filter((one) => !isCsv(one));
    return await work(await choose(taken, { ...options, ...(ids !== undefined && { ids }) }));
  } catch (error) {
    throw error instanceof PairstopError && error.code === 'PS_BATCH' ? taken.placed(error) : error;
  }
}
