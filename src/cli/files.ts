/** Files, standard input and standard output, as the commands see them. */
import { open, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { PairstopError } from '../errors.js';
import { visibleLines } from '../text/visible.js';

/** A path that means standard input or output. */
export const STANDARD = '-';

function reasonOf(error: unknown): string {
  const code: unknown = error instanceof Error ? Reflect.get(error, 'code') : undefined;
  switch (code) {
    case 'ENOENT':
      return 'there is no such file or folder';
    case 'EACCES':
    case 'EPERM':
      return 'access is not allowed';
    case 'EISDIR':
      return 'it is a folder';
    case 'ENOSPC':
      return 'the disk is full';
    default:
      return error instanceof Error ? error.message : String(error);
  }
}

export function fileError(path: string, verb: string, error: unknown): PairstopError {
  const problem = { path, given: reasonOf(error), allowed: `a file that can be ${verb}, or -` };
  return new PairstopError('PS_FILE', `${path} cannot be ${verb}: ${reasonOf(error)}`, [problem], {
    cause: error,
  });
}

/** Reads on a byte past `most`, so that the reader refuses what is too large without all of it in memory. */
async function readStandard(most: number): Promise<Uint8Array> {
  const chunks: Uint8Array[] = [];
  let size = 0;
  for await (const chunk of process.stdin) {
    const bytes = typeof chunk === 'string' ? Buffer.from(chunk) : (chunk as Uint8Array);
    chunks.push(bytes);
    size += bytes.length;
    if (size > most) break;
  }
  return Buffer.concat(chunks);
}

async function readBounded(path: string, most: number): Promise<Uint8Array> {
  const file = await open(path);
  try {
    const { size } = await file.stat();
    if (size <= most) return await readFile(file);
    const { buffer } = await file.read(Buffer.alloc(most + 1), 0, most + 1, 0);
    return buffer;
  } finally {
    await file.close();
  }
}

/** The bytes of a file or of standard input, at most one more than `most`. Throws PS_FILE. */
export async function readInput(path: string, most: number): Promise<Uint8Array> {
  try {
    return path === STANDARD ? await readStandard(most) : await readBounded(path, most);
  } catch (error) {
    throw fileError(path === STANDARD ? 'standard input' : path, 'read', error);
  }
}

/** To standard output, nothing but text (an escaped character of JSON is the same one); waits until it is taken. A reader that has gone away (`| head`) is no error. Throws PS_FILE. */
export async function print(text: string): Promise<void> {
  const error = await new Promise<Error | null | undefined>((resolve) => {
    process.stdout.write(visibleLines(text), resolve);
  });
  if (error && Reflect.get(error, 'code') !== 'EPIPE') throw fileError('standard output', 'written', error);
}

/** Writes a whole file or none: beside it first, then over it. Throws PS_FILE. */
export async function writeOutput(path: string, text: string): Promise<void> {
  if (path === STANDARD) return print(text);
  const draft = `${path}.${process.pid}.part`;
  try {
    await writeFile(draft, text);
    await rename(draft, path);
  } catch (error) {
    await rm(draft, { force: true });
    throw fileError(path, 'written', error);
  }
}
