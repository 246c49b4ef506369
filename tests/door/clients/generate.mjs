/**
 * Types of a client from an OpenAPI document: node generate.mjs DOCUMENT.json TYPES.ts. The generator builds TypeScript
 * through the compiler's old programming interface, which TypeScript 7 has no more; it is given the one it was made for.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { register } from 'node:module';

const hooks = `export async function resolve(specifier, context, next) {
  return next(specifier === 'typescript' ? 'typescript-classic' : specifier, context);
}`;
register(`data:text/javascript,${encodeURIComponent(hooks)}`);

const { default: openapiTS, astToString } = await import('openapi-typescript');
const [from, to] = process.argv.slice(2);
const types = await openapiTS(JSON.parse(readFileSync(from, 'utf8')));
writeFileSync(to, astToString(types));
