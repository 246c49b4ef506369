/** The version of this package, as its package.json has it. */
import { createRequire } from 'node:module';
import { z } from 'zod';

const read: unknown = createRequire(import.meta.url)('pairstop/package.json');

export const VERSION: string = z.object({ version: z.string() }).parse(read).version;
