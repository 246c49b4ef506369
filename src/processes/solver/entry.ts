/** Which file a solver process starts from, and with which Node options: the built one, or TypeScript in a checkout. */
import { relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { ownFile, ownModule } from '../../place.js';

export interface EntryFile {
  readonly file: string;
  readonly execArgv: readonly string[];
}

const root = fileURLToPath(ownFile('.'));

/**
 * A file written in TypeScript runs through the loader this process itself was started with, or from the folder
 * PAIRSTOP_COMPILED, where the tests keep a compiled copy of the checkout that starts ten times quicker.
 */
export function entryAt(url: URL): EntryFile {
  const file = fileURLToPath(url);
  if (!file.endsWith('.ts')) return { file, execArgv: [] };
  const compiled = process.env.PAIRSTOP_COMPILED;
  if (compiled === undefined) return { file, execArgv: ['--import', import.meta.resolve('tsx')] };
  return { file: resolve(compiled, relative(root, file)).replace(/\.ts$/, '.js'), execArgv: [] };
}

export const SOLVER_ENTRY: EntryFile = entryAt(ownModule('workers/solve'));
