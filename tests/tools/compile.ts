/** Before all tests: a compiled copy of the checkout for the processes the tests start. Types are checked elsewhere. */
import { execFileSync } from 'node:child_process';
import { readFileSync, rmSync } from 'node:fs';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build, type Plugin } from 'esbuild';

/** What looks for files beside itself finds them from within a bundle too. */
const ownPlace: Plugin = {
  name: 'own place',
  setup(building) {
    building.onLoad({ filter: /\/dist\/.*\.js$/ }, ({ path }) => ({
      contents: readFileSync(path, 'utf8').replaceAll(
        'import.meta.url',
        JSON.stringify(pathToFileURL(path).href),
      ),
    }));
  },
};

const REQUIRE = `import { createRequire as requireFrom } from 'node:module';
const require = requireFrom(import.meta.url), __filename = import.meta.filename, __dirname = import.meta.dirname;`;

/**
 * Each in a few files with all it needs, written over the compiled ones: a process then starts in half the time, and
 * starting processes is a good part of what the tests do. What is lazily imported stays so.
 */
export async function bundle(out: string, entries: readonly string[], splitting: boolean): Promise<void> {
  await build({
    entryPoints: entries.map((entry) => `${out}/${entry}`),
    outbase: out,
    outdir: out,
    allowOverwrite: true,
    bundle: true,
    splitting,
    // Below what the package ships.
    chunkNames: 'src/chunks/[name]-[hash]',
    platform: 'node',
    format: 'esm',
    target: 'node20.11',
    // They read files of their own, start threads, or must be one copy for all that trace.
    external: ['highs', 'piscina', 'esbuild', 'playwright-core', '@opentelemetry/*', 'bullmq-otel'],
    banner: { js: REQUIRE },
    plugins: [ownPlace],
    logLevel: 'error',
  });
}

export default async function compile(): Promise<() => void> {
  const root = fileURLToPath(new URL('../..', import.meta.url));
  // Below dist, so that it is ignored everywhere and this package's "type" still counts.
  const out = `${root}dist/test-${process.pid}`;
  const tsc = `${root}node_modules/typescript/bin/tsc`;
  const quick = ['--noCheck', '--declaration', 'false', '--sourceMap', 'false'];
  execFileSync(process.execPath, [tsc, '-p', `${root}tsconfig.json`, '--outDir', out, ...quick]);
  // The bench card's script, as the build makes it.
  execFileSync('npm', ['run', '-s', 'build:card', '--', `--outfile=${out}/src/sheet/card/bundle.js`], {
    cwd: root,
  });
  // Those with chunks first, since they read the compiled files. A bundle of chunks does not keep the order of imports.
  await bundle(out, ['src/cli/main.js'], true);
  await bundle(
    out,
    ['tests/tools/worker-process.js', 'tests/tools/planted-solver.js', 'workers/solve.js'],
    false,
  );
  process.env.PAIRSTOP_COMPILED = out;
  return () => rmSync(out, { recursive: true, force: true });
}
