/** Before all tests: a compiled copy of the checkout for the processes the tests start. Types are checked elsewhere. */
import { execFileSync } from 'node:child_process';
import { rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export default function compile(): () => void {
  const root = fileURLToPath(new URL('../..', import.meta.url));
  // Below dist, so that it is ignored everywhere and this package's "type" still counts.
  const out = `${root}dist/test-${process.pid}`;
  const run = (script: string, args: readonly string[]): void => {
    execFileSync('npm', ['run', '-s', script, '--', ...args], { cwd: root });
  };
  /** By the build's own scripts, so that the tests run what is shipped; and a bundle starts in half the time. */
  const bundle = (script: string, files: readonly string[], ...options: readonly string[]): void => {
    const paths = files.map((file) => `${out}/${file}`);
    run(script, [`--outbase=${out}`, `--outdir=${out}`, ...options, ...paths]);
  };
  const tsc = `${root}node_modules/typescript/bin/tsc`;
  const quick = ['--noCheck', '--declaration', 'false', '--sourceMap', 'false'];
  execFileSync(process.execPath, [tsc, '-p', `${root}tsconfig.json`, '--outDir', out, ...quick]);
  run('build:card', [`--outfile=${out}/src/sheet/card/bundle.js`]);
  // First what only reads compiled files. A worker with another clock keeps the order of its imports, which chunks do not.
  bundle('build:commands', ['tests/tools/worker-process.js'], '--splitting=false');
  bundle('build:solver', ['tests/tools/planted-solver.js', 'workers/solve.js']);
  bundle('build:commands', ['src/cli/main.js', 'src/door/heavy/thread.js']);
  process.env.PAIRSTOP_COMPILED = out;
  return () => rmSync(out, { recursive: true, force: true });
}
