/** A worker as a process: runs until it is told to stop, and then ends for certain. */
import type { Logger } from 'pino';
import { isOutage } from '../redis/outage.js';
import type { WorkerSettings } from '../settings.js';
import { startWorker, type WorkerOptions } from './worker.js';

/** After `timing.stop` everything has had its chance; the process then ends whatever is still open. */
const LAST_WORD_MS = 500;

/** Resolves with the exit code once the worker has stopped, by SIGTERM, SIGINT or a fault. */
export async function serveUntilStopped(
  settings: WorkerSettings,
  options: WorkerOptions & { readonly log: Logger },
): Promise<number> {
  const { log } = options;
  let stop: (code: number) => void = () => {};
  const told = new Promise<number>((resolve) => {
    stop = resolve;
  });
  for (const signal of ['SIGTERM', 'SIGINT'] as const) {
    process.on(signal, () => {
      log.info({ signal }, 'told to stop');
      stop(0);
    });
  }
  // BullMQ drops promises when a connection goes; anything else is a fault, and a fresh process is the cure.
  process.on('unhandledRejection', (error) => {
    if (isOutage(error)) return;
    log.fatal({ reason: error instanceof Error ? error.stack : String(error) }, 'a fault in the program');
    stop(1);
  });
  const starting = startWorker(settings, options);
  const first = await Promise.race([starting, told]);
  if (typeof first === 'number') return first;
  const code = await told;
  const late = setTimeout(() => process.exit(code), settings.timing.stop + LAST_WORD_MS);
  await first.stop();
  clearTimeout(late);
  return code;
}
