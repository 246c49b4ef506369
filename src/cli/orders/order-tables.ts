/** An order in CSV: its files, and what a folder of them holds. */
import { readdir } from 'node:fs/promises';
import { basename, dirname, extname, join, resolve } from 'node:path';
import { CSV_BYTES } from '../../csv/read.js';
import { PairstopError } from '../../errors.js';
import { nearest, TABLE_WORDS, type TableName, tableNamed } from '../../orders/columns.js';
import { type OrderFile, readOrderFiles } from '../../orders/order.js';
import { show } from '../../read/problems.js';
import type { Units } from '../../terms.js';
import { readInput, STANDARD } from '../files.js';
import { isCsv, type TakenOrder } from './order-choices.js';

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

interface TableFiles {
  readonly path: string;
  readonly folder: boolean;
  /** The file itself, where it is no folder. */
  readonly first: Uint8Array | null;
  /** Files named beside it, each with its table. */
  readonly beside: readonly { readonly path: string; readonly table: TableName }[];
  readonly units: Units | undefined;
  readonly id: string | undefined;
}

/** Throws PS_FILE, PS_CSV, PS_BATCH. */
export async function takeTables({
  path,
  folder,
  first,
  beside,
  units,
  id,
}: TableFiles): Promise<TakenOrder> {
  const own =
    first === null
      ? await folderFiles(path)
      : [{ name: path === STANDARD ? 'standard input' : path, bytes: first, table: 'frames' as const }];
  const others = await Promise.all(beside.map(({ path: file, table }) => csvFile(file, table)));
  // A file named on the command line replaces the one in the folder.
  const replaced = new Set(others.map(({ table }) => table));
  const files = [...own.filter(({ table }) => first !== null || !replaced.has(table)), ...others];
  const order = readOrderFiles(files, {
    id: nameOf(path === STANDARD ? path : folder ? path : join(dirname(path), basename(path))),
    ...(id !== undefined && { askedId: id }),
    ...(units !== undefined && { units }),
  });
  return { ...order, path };
}
