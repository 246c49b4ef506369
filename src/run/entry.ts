/** Which file a solver process starts from, and with which Node options: the built one, or TypeScript in a checkout. */
import { fileURLToPath } from 'node:url';

export interface Entry {
  readonly file: string;
  readonly execArgv: readonly string[];
}

const typescript = import.meta.url.endsWith('.ts');

/** An entry written in TypeScript runs through the loader this process itself was started with. */
export function entryAt(url: URL): Entry {
  const file = fileURLToPath(url);
  return { file, execArgv: file.endsWith('.ts') ? ['--import', import.meta.resolve('tsx')] : [] };
}

export const SOLVER_ENTRY: Entry = entryAt(
  new URL(`../../workers/solve.${typescript ? 'ts' : 'js'}`, import.meta.url),
);
