/** Files, standard input and standard output, as the commands see them. */
import {
  chmod,
  lstat,
  open,
  readFile,
  readlink,
  realpath,
  rename,
  rm,
  stat,
  writeFile,
} from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { PairstopError } from '../errors.js';
import { visibleLines } from '../text/visible.js';

/** A path that means standard input or output. */
export const STANDARD = '-';

function codeOf(error: unknown): unknown {
  return error instanceof Error ? Reflect.get(error, 'code') : undefined;
}

function reasonOf(error: unknown): string {
  switch (codeOf(error)) {
    case 'ENOENT':
      return 'there is no such file or folder';
    case 'EACCES':
    case 'EPERM':
      return 'access is not allowed';
    case 'EISDIR':
      return 'it is a folder';
    case 'ELOOP':
      return 'its links lead round in a circle';
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

/** Reads one byte past `most`, so the reader can refuse a file that is too large without all of it in memory. */
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

/**
 * Prints text, with anything else escaped (in JSON the escape means the same character), and waits until it is taken. A
 * reader that has gone away (`| head`) is no error. Throws PS_FILE.
 */
export async function print(text: string): Promise<void> {
  const error = await new Promise<Error | null | undefined>((taken) => {
    process.stdout.write(visibleLines(text), taken);
  });
  if (error && Reflect.get(error, 'code') !== 'EPIPE') throw fileError('standard output', 'written', error);
}

/** Linux follows as many links before it calls them a circle. */
const LINKS_MOST = 40;

/** Where a path leads, through links; also to a file that is not there yet. */
async function targetOf(path: string, links = 0): Promise<string> {
  const link = await lstat(path).catch(() => null);
  if (link?.isSymbolicLink() !== true || links > LINKS_MOST) return path;
  return realpath(path).catch(async () => targetOf(resolve(dirname(path), await readlink(path)), links + 1));
}

/** Writes a file beside it, then moves it over: a reader sees either the old file or the new one. */
async function replace(path: string, text: string, mode: number | null): Promise<void> {
  const draft = `${path}.${process.pid}.part`;
  try {
    await writeFile(draft, text, mode === null ? {} : { mode });
    // The umask may have removed some of the mode.
    if (mode !== null) await chmod(draft, mode);
    await rename(draft, path);
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
}

/**
 * Writes a whole file or none, keeping its mode and the link that leads to it. A device or a pipe is written to
 * directly. Throws PS_FILE.
 */
export async function writeOutput(path: string, text: string): Promise<void> {
  if (path === STANDARD) return print(text);
  try {
    const target = await targetOf(path);
    const known = await stat(target).catch((error: unknown) => {
      if (codeOf(error) === 'ENOENT') return null;
      throw error;
    });
    if (known === null) await replace(target, text, null);
    else if (known.isFile()) await replace(target, text, known.mode & 0o7777);
    else await writeFile(target, text);
  } catch (error) {
    throw fileError(path, 'written', error);
  }
}
