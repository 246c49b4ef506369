/** Log lines: JSON, one a line, no frame data at info level and never a password. */
import { type Logger, pino } from 'pino';
import { VERSION } from '../version.js';
import { LogStream } from './log-stream.js';

const STDOUT = 1;
const LAST_LINES_MS = 300;

export interface ServiceLog {
  readonly log: Logger;
  readonly stream: LogStream;
}

/** To standard output, which may be full, stopped or gone: see `log-stream.ts`. */
export function createLog(level: string): ServiceLog {
  const stream = new LogStream(STDOUT, (dropped) => {
    const line = {
      level: 40,
      time: Date.now(),
      pid: process.pid,
      name: 'pairstop',
      version: VERSION,
      dropped,
    };
    return `${JSON.stringify({ ...line, msg: 'log lines were dropped' })}\n`;
  });
  const log = pino(
    {
      name: 'pairstop',
      level,
      base: { pid: process.pid, version: VERSION },
      redact: { paths: ['url', 'password', '*.password', 'redisUrl', '*.redisUrl'], censor: '(hidden)' },
    },
    stream,
  );
  return { log, stream };
}

/** Ends this process with what is still to be logged, or without it. */
export async function endProcess(code: number, stream: LogStream): Promise<never> {
  await stream.flush(LAST_LINES_MS);
  // A thread that stands in a write keeps an ordinary exit waiting for it; a signal does not wait.
  if (stream.stuck) {
    process.removeAllListeners('SIGTERM');
    process.kill(process.pid, 'SIGTERM');
  }
  process.exit(code);
}
