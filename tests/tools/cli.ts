/** The command as a process. */
import { spawn } from 'node:child_process';

/** The copy compiled before all tests: loading it takes a tenth of the time that the sources take. */
const MAIN = `${process.env.PAIRSTOP_COMPILED ?? ''}/src/cli/main.js`;

export const DEMO = new URL('../../src/demo/lakeside-spring.json', import.meta.url).pathname;

export interface Ended {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

export function runCli(
  args: readonly string[],
  input = '',
  env: Readonly<Record<string, string>> = {},
): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [MAIN, ...args], { env: { ...process.env, ...env } });
    let [out, err] = ['', ''];
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      out += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      err += text;
    });
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, out, err }));
    child.stdin.end(input);
  });
}

/** What a person must never see: a stack trace. */
export const STACK = /^\s+at .+:\d+:\d+/m;
