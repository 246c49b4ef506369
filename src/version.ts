/** The version of this package, as its package.json has it. */
import { createRequire } from 'node:module';

const { version } = createRequire(import.meta.url)('pairstop/package.json') as { readonly version: string };

export const VERSION = version;
