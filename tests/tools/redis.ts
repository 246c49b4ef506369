/** A real Redis of one's own: free port, temporary folder, append-only file, no eviction; gone when the test ends. */
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Redis } from 'ioredis';

export async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  if (address === null || typeof address === 'string') throw new Error('no free port');
  return address.port;
}

export interface RedisOptions {
  /** Further settings, as on redis-server's command line. */
  readonly args?: readonly string[];
  readonly appendOnly?: boolean;
  readonly policy?: string;
  /** Another server than the one installed, and what stands before its settings. */
  readonly command?: readonly string[];
  /** Called with its folder before it starts: what lies there then is what it finds. */
  readonly before?: (folder: string) => void;
}

export class TestRedis {
  readonly port: number;
  readonly #dir: string;
  readonly #command: readonly string[];
  readonly #args: readonly string[];
  #server: ChildProcess | null = null;

  private constructor(port: number, options: RedisOptions) {
    this.port = port;
    this.#dir = mkdtempSync(join(tmpdir(), 'pairstop-redis-'));
    options.before?.(this.#dir);
    this.#command = options.command ?? ['redis-server'];
    this.#args = [
      ...['--port', String(port), '--bind', '127.0.0.1', '--dir', this.#dir, '--save', ''],
      ...['--appendonly', options.appendOnly === false ? 'no' : 'yes'],
      ...['--maxmemory-policy', options.policy ?? 'noeviction'],
      ...(options.args ?? []),
    ];
  }

  static async start(options: RedisOptions = {}): Promise<TestRedis> {
    const redis = new TestRedis(await freePort(), options);
    await redis.up();
    return redis;
  }

  /** A port nobody answers on. */
  static async nowhere(): Promise<string> {
    return `redis://127.0.0.1:${await freePort()}`;
  }

  get url(): string {
    return `redis://127.0.0.1:${this.port}`;
  }

  /** Its folder, for a copy of what it has written. */
  get folder(): string {
    return this.#dir;
  }

  /** `user`: `name:password`, by default Redis's own. */
  connect(user?: string): Redis {
    const url = user === undefined ? this.url : this.url.replace('//', `//${user}@`);
    const redis = new Redis(url, { lazyConnect: false });
    redis.on('error', () => {});
    return redis;
  }

  async up(): Promise<void> {
    // A write beyond the limit of `diskFull` is to fail, as on a full disk, and not to end the server.
    const trap = ['-c', 'trap "" XFSZ; exec "$@"', 'sh'];
    const server = spawn('sh', [...trap, ...this.#command, ...this.#args], { stdio: 'ignore' });
    this.#server = server;
    const probe = new Redis(this.url, { retryStrategy: () => 20, maxRetriesPerRequest: null });
    probe.on('error', () => {});
    try {
      // A server that asks for a password is up as soon as it says so.
      await probe.ping().catch((error: Error) => {
        if (!error.message.startsWith('NOAUTH')) throw error;
      });
    } finally {
      probe.disconnect();
    }
    if (server.exitCode !== null) throw new Error(`redis-server ended with code ${server.exitCode}`);
  }

  /** Killed as by a power cut. */
  async down(): Promise<void> {
    const server = this.#server;
    if (server === null || server.exitCode !== null || server.signalCode !== null) return;
    server.kill('SIGKILL');
    await once(server, 'exit');
  }

  /** From now on its files cannot grow, until `diskFreed`. */
  diskFull(): void {
    this.#limitFiles('0');
  }

  diskFreed(): void {
    this.#limitFiles('unlimited');
  }

  #limitFiles(size: string): void {
    execFileSync('prlimit', ['--pid', String(this.#server?.pid), `--fsize=${size}:unlimited`]);
  }

  async end(): Promise<void> {
    await this.down();
    rmSync(this.#dir, { recursive: true, force: true });
  }
}
