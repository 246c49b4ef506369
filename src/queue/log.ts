/** Log lines: JSON, one a line, no frame data at info level and never a password. */
import { type Logger, pino } from 'pino';

export function createLog(level: string): Logger {
  return pino({
    name: 'pairstop',
    level,
    redact: { paths: ['url', 'password', '*.password', 'redisUrl', '*.redisUrl'], censor: '(hidden)' },
  });
}
