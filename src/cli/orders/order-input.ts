/** How an order is read: a batch in JSON, a CSV file with the others beside it, or a folder of them. */
import { stat } from 'node:fs/promises';
import { readBatchDocument } from '../../documents/batch/read.js';
import { PairstopError } from '../../errors.js';
import type { TableName } from '../../orders/columns.js';
import { BATCH_BYTES } from '../../read/limits.js';
import { show } from '../../read/problems.js';
import { readInput, STANDARD } from '../files.js';
import { choose, isCsv, type OrderInput, type OrderOptions, type TakenOrder } from './order-choices.js';

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

async function isFolder(path: string): Promise<boolean> {
  if (path === STANDARD) return false;
  return (await stat(path).catch(() => null))?.isDirectory() ?? false;
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

async function take(path: string, options: OrderOptions): Promise<TakenOrder> {
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
  const { units, id } = options;
  if (units !== undefined && units !== 'in' && units !== 'mm') {
    throw usage(`--units: given ${show(units)}; allowed: in, mm`);
  }
  const { takeTables } = await import('./order-tables.js');
  const named = beside.map(([key, file]) => ({ path: file, table: BESIDE[key] }));
  return takeTables({ path, folder, first, beside: named, units, id });
}

/** As `withOrder` of the options says. */
export async function readAndDo<T>(
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
