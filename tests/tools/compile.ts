/** Before all tests: a compiled copy of the checkout for the processes the tests start. Types are checked elsewhere. */
import { execFileSync } from 'node:child_process';
import { rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export default function compile(): () => void {
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
  process.env.PAIRSTOP_COMPILED = out;
  return () => rmSync(out, { recursive: true, force: true });
}
