/** A Redis of one shop's own: append-only, reached from this machine alone and with a password, its file in a folder. */
import { type ChildProcess, spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { once } from 'node:events';
import { mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { PairstopError } from '../../errors.js';

const SECRET_BYTES = 24;
const OWNER_ONLY = 0o600;

export interface OwnRedis {
  readonly url: string;
  readonly start: () => ChildProcess;
}

async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  if (address === null || typeof address === 'string')
    throw new PairstopError('PS_INTERNAL', 'no port is free');
  return address.port;
}

async function kept(path: string, make: () => string): Promise<string> {
  const known = await readFile(path, 'utf8').catch(() => null);
  if (known !== null && known.trim() !== '') return known.trim();
  const made = make();
  await writeFile(path, `${made}\n`, { mode: OWNER_ONLY });
  return made;
}

function quoted(text: string): string {
  return `"${text.replaceAll('\\', '\\\\').replaceAll('"', '\\"')}"`;
}

/** Writes what it needs into the folder. Throws PS_FILE. */
export async function ownRedis(folder: string): Promise<OwnRedis> {
  try {
    const data = join(folder, 'redis');
    await mkdir(data, { recursive: true, mode: 0o700 });
    const password = await kept(join(folder, 'redis-password'), () =>
      randomBytes(SECRET_BYTES).toString('hex'),
    );
    const port = await freePort();
    const url = `redis://:${password}@127.0.0.1:${port}`;
    const lines = [
      'bind 127.0.0.1',
      `port ${port}`,
      `requirepass ${password}`,
      `dir ${quoted(data)}`,
      'appendonly yes',
      'appendfsync everysec',
      'save ""',
      'maxmemory-policy noeviction',
      'loglevel warning',
    ];
    const config = join(folder, 'redis.conf');
    await rm(config, { force: true });
    await writeFile(config, `${lines.join('\n')}\n`, { mode: OWNER_ONLY });
    // For pairstop's other commands: REDIS_URL=$(cat FOLDER/redis-url)
    await rm(join(folder, 'redis-url'), { force: true });
    await writeFile(join(folder, 'redis-url'), `${url}\n`, { mode: OWNER_ONLY });
    return {
      url,
      start: () =>
        spawn('redis-server', [config], { stdio: ['ignore', 'ignore', 'inherit'], detached: true }),
    };
  } catch (error) {
    if (error instanceof PairstopError) throw error;
    const reason = error instanceof Error ? error.message : 'it cannot be written';
    throw new PairstopError('PS_FILE', `--alone: the folder ${folder} cannot be used: ${reason}`);
  }
}
