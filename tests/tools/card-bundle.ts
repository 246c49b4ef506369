/** The bench card's script, bundled as `npm run build` does. */
import { fileURLToPath } from 'node:url';
import { buildSync } from 'esbuild';

const SOURCE = fileURLToPath(new URL('../../src/sheet/card/main.tsx', import.meta.url));

/** Into a compiled copy of the sources, whose `src` this is. */
export function bundleCard(src: string): void {
  buildSync({
    entryPoints: [SOURCE],
    bundle: true,
    minify: true,
    format: 'iife',
    target: 'es2022',
    jsx: 'automatic',
    jsxImportSource: 'preact',
    outfile: `${src}/sheet/card/bundle.js`,
  });
}
