/** The command as a process. */
import { spawn } from 'node:child_process';

const MAIN = new URL('../../src/cli/main.ts', import.meta.url).pathname;

export const DEMO = new URL('../../src/demo/lakeside-spring.json', import.meta.url).pathname;

export interface Ended {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

export function runCli(args: readonly string[], input = ''): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, ['--import', 'tsx', MAIN, ...args]);
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
