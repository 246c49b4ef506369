/** What the figures of the door share: a door in a process of its own. */
import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync, writeFileSync } from 'node:fs';
import { type Agent, request } from 'node:http';
import { entryAt } from '../../src/processes/solver/entry.js';

const { file, execArgv } = entryAt(
  new URL(`../../src/cli/main.${import.meta.url.endsWith('.ts') ? 'ts' : 'js'}`, import.meta.url),
);
const START_MS = 60_000;

/** A door that may be killed and started again at the same port. */
export class DoorProcess {
  readonly #redis: string;
  readonly #env: Readonly<Record<string, string>>;
  #child: ChildProcess | null = null;
  #port = 0;

  private constructor(redis: string, env: Readonly<Record<string, string>>) {
    this.#redis = redis;
    this.#env = env;
  }

  static async start(redis: string, env: Readonly<Record<string, string>> = {}): Promise<DoorProcess> {
    const door = new DoorProcess(redis, env);
    await door.up();
    return door;
  }

  get url(): string {
    return `http://127.0.0.1:${this.#port}`;
  }

  /** Bytes. */
  get memory(): number {
    const status = readFileSync(`/proc/${this.#child?.pid ?? 0}/status`, 'utf8');
    return Number(/VmRSS:\s+(\d+)/.exec(status)?.[1] ?? 0) * 1_024;
  }

  /** Milliseconds of processor time so far. */
  get processor(): number {
    const stat = readFileSync(`/proc/${this.#child?.pid ?? 0}/stat`, 'utf8');
    // proc(5): fields 14 and 15 are user and system time in ticks, a hundred a second; the name before may hold spaces.
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
    return (Number(fields[11]) + Number(fields[12])) * 10;
  }

  /** The most there ever was, or since `forgetPeak`. */
  get peak(): number {
    const status = readFileSync(`/proc/${this.#child?.pid ?? 0}/status`, 'utf8');
    return Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0) * 1_024;
  }

  forgetPeak(): void {
    // proc(5): 5 sets the peak to what there is.
    writeFileSync(`/proc/${this.#child?.pid ?? 0}/clear_refs`, '5');
  }

  async up(): Promise<void> {
    const child = fork(file, ['serve', '--port', String(this.#port)], {
      execArgv: [...execArgv],
      env: {
        ...process.env,
        PAIRSTOP_DOOR_RATE: '1000000',
        PAIRSTOP_DOOR_CONCURRENT: '10000',
        ...this.#env,
        REDIS_URL: this.#redis,
      },
      stdio: ['ignore', 'pipe', 'inherit', 'ipc'],
    });
    this.#child = child;
    let rest = '';
    const ready = new Promise<number>((resolve, reject) => {
      const late = setTimeout(() => reject(new Error('the door did not become ready')), START_MS);
      child.stdout?.on('data', (chunk: Buffer) => {
        rest = (rest + chunk.toString()).slice(-20_000);
        const port = /"listens":"http:\/\/127\.0\.0\.1:(\d+)"[^\n]*door ready/.exec(rest)?.[1];
        if (port === undefined) return;
        clearTimeout(late);
        resolve(Number(port));
      });
      child.once('exit', () => reject(new Error(`the door ended: ${rest.slice(-500)}`)));
    });
    this.#port = await ready;
  }

  async end(signal: NodeJS.Signals): Promise<void> {
    const child = this.#child;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, 'exit');
    child.kill(signal);
    await gone;
  }
}

export interface HttpAnswer {
  readonly status: number;
  readonly text: string;
  readonly headers: Readonly<Record<string, string | readonly string[] | undefined>>;
}

/** Rejects when there is no whole answer. */
export function http(
  url: string,
  method: string,
  path: string,
  {
    agent,
    body,
    headers = {},
  }: { agent?: Agent; body?: string | Buffer; headers?: Readonly<Record<string, string>> } = {},
): Promise<HttpAnswer> {
  const { hostname, port } = new URL(url);
  const sent =
    body === undefined
      ? headers
      : { 'content-type': 'application/json', 'content-length': String(Buffer.byteLength(body)), ...headers };
  return new Promise((resolve, reject) => {
    const asked = request({
      hostname,
      port,
      method,
      path,
      headers: sent,
      ...(agent === undefined ? {} : { agent }),
    });
    asked.setTimeout(120_000, () => asked.destroy(new Error('no answer in two minutes')));
    asked.on('error', reject);
    asked.on('response', (response) => {
      let text = '';
      response.setEncoding('utf8').on('data', (chunk: string) => {
        text += chunk;
      });
      response.on('end', () =>
        resolve({ status: response.statusCode ?? 0, text, headers: response.headers }),
      );
      response.on('error', reject);
    });
    asked.end(body);
  });
}
