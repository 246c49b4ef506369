/** The bench card's script, bundled when the package is built. In a checkout's own sources it is bundled when asked for. */
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { ownFile } from '../place.js';

const BUNDLE = ownFile('src/sheet/card/bundle.js');
const SOURCE = ownFile('src/sheet/card/main.tsx');

async function bundled(): Promise<string> {
  const { build } = await import('esbuild');
  const { outputFiles } = await build({
    entryPoints: [fileURLToPath(SOURCE)],
    bundle: true,
    minify: true,
    format: 'iife',
    target: 'es2022',
    jsx: 'automatic',
    jsxImportSource: 'preact',
    write: false,
  });
  return outputFiles[0]?.text ?? '';
}

let loaded: Promise<string> | null = null;

async function load(): Promise<string> {
  try {
    return await readFile(BUNDLE, 'utf8');
  } catch (error) {
    if (!(error instanceof Error) || Reflect.get(error, 'code') !== 'ENOENT') throw error;
    return bundled();
  }
}

/** Read once a process. */
export function cardScript(): Promise<string> {
  loaded ??= load();
  return loaded;
}
