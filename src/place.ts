/**
 * Where this program's own files are. The code that asks may stand in its own file or, bundled, in another one: what
 * both have in common is the folder that holds `src` and `workers`, in a checkout as in `dist`.
 */

const here = import.meta.url;
/** The code runs as TypeScript, from a checkout. */
export const AS_TYPESCRIPT = here.endsWith('.ts');
/** The last of these folders on the way here is one of ours; those before it are where the user put us. */
const root = here.replace(/(.*\/)(?:src|workers|tests|bench)\/.*$/, '$1');

/** A file of this program: `path` from the folder of `src` and `workers` on, with its ending. */
export function ownFile(path: string): URL {
  return new URL(path, root);
}

/** A module of this program, as `src/cli/main`: in TypeScript or compiled, as this one is. */
export function ownModule(path: string): URL {
  return ownFile(`${path}.${AS_TYPESCRIPT ? 'ts' : 'js'}`);
}
