/** The servers the tests can start: the installed Redis, and those that `other-servers.mjs` has fetched. */
import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../../node_modules/.cache/pairstop-servers/root/', import.meta.url));

export interface Server {
  /** As it calls itself: `Redis server v=7.0.15`. */
  readonly name: string;
  readonly command: readonly string[];
}

function named(command: readonly string[]): Server {
  const [program = '', ...args] = command;
  const said = execFileSync(program, [...args, '--version']).toString();
  return { name: /^\w+ server v=\S+/.exec(said)?.[0] ?? said.trim(), command };
}

/** By the loader and libraries they came with. */
function fetched(): readonly (readonly string[])[] {
  const libraries = existsSync(`${ROOT}usr/lib`)
    ? readdirSync(`${ROOT}usr/lib`).find((name) => name.endsWith('-linux-gnu'))
    : undefined;
  if (libraries === undefined) return [];
  const folder = `${ROOT}usr/lib/${libraries}`;
  const loader = readdirSync(folder).find((name) => /^ld-linux.*\.so\.\d+$/.test(name));
  if (loader === undefined) return [];
  return ['redis-server', 'valkey-server'].map((name) => [
    `${folder}/${loader}`,
    '--library-path',
    folder,
    `${ROOT}usr/bin/${name}`,
  ]);
}

export const SERVERS: readonly Server[] = [['redis-server'], ...fetched()].map(named);
