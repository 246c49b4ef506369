/** A worker as a process: runs until it is told to stop, and then ends for certain. */

import { startTracing } from '../health/tracing.js';
import { endProcess, type ServiceLog } from '../log.js';
import { isOutage } from '../redis/outage.js';
import { within } from '../redis/waiting.js';
import type { WorkerSettings } from '../settings.js';
import { startWorker, type WorkerOptions } from './worker.js';
import { yieldTo } from './yielding.js';

/** After `timing.stop` everything has had its chance; the process then ends whatever is still open. */
const LAST_WORD_MS = 500;
const PARENT_LOOK_MS = 250;
const LAST_TRACES_MS = 1_000;

/**
 * Calls `gone` when the shell or npm that started this process ends without telling it: npm passes SIGTERM on to the
 * shell of a script, which dies of it alone. Only below npm: a worker started with `nohup` outlives its shell.
 */
function watchParent(gone: () => void): void {
  if (process.env.npm_lifecycle_event === undefined) return;
  const parent = process.ppid;
  const timer = setInterval(() => {
    if (process.ppid === parent) return;
    clearInterval(timer);
    gone();
  }, PARENT_LOOK_MS);
  timer.unref();
}

/** Ends the process with code 0 once the worker has stopped, by SIGTERM, SIGINT or the end of npm; with 1 by a fault. */
export async function serveUntilStopped(
  settings: WorkerSettings,
  options: Omit<WorkerOptions, 'log'> & ServiceLog,
): Promise<never> {
  const { log, stream } = options;
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
  watchParent(() => {
    log.info('told to stop: npm has ended');
    stop(0);
  });
  // BullMQ drops promises when a connection goes; anything else is a fault, and a fresh process is the cure.
  process.on('unhandledRejection', (error) => {
    if (isOutage(error)) return;
    log.fatal({ reason: error instanceof Error ? error.stack : String(error) }, 'a fault in the program');
    stop(1);
  });
  process.on('uncaughtException', (error) => {
    log.fatal({ reason: error.stack }, 'a fault in the program');
    stop(1);
  });
  const tracing = await startTracing(process.env);
  const traced = tracing === null ? options : { ...options, telemetry: tracing.telemetry };
  const starting = startWorker(settings, traced);
  const first = await Promise.race([starting, told]);
  if (typeof first === 'number') return endProcess(first, stream);
  // Not before its first solvers run: a niced start takes long on a busy machine.
  yieldTo(settings.nice);
  const code = await told;
  await within(settings.timing.stop + LAST_WORD_MS, 'stopping', first.stop()).catch(() => {});
  if (tracing !== null) await within(LAST_TRACES_MS, 'the last traces', tracing.close()).catch(() => {});
  return endProcess(code, stream);
}
