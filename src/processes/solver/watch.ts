/**
 * Ends this process when its parent is gone or it has used up its memory, even while the main thread is in a
 * synchronous solve. A thread of its own looks every 100 ms and sends SIGKILL, which no library can hold up.
 */
import { Worker } from 'node:worker_threads';

const LOOK_MS = 100;
const WATCH_HEAP_MB = 8;

/** Text rather than a file, so it runs the same from a checkout and from the built package. */
const WATCH = `
const { workerData: { parent, rss, every } } = require('node:worker_threads');
const { writeSync } = require('node:fs');
setInterval(() => {
  if (process.ppid !== parent) process.kill(process.pid, 'SIGKILL');
  if (process.memoryUsage.rss() > rss) {
    try { writeSync(2, 'memory limit reached\\n'); } finally { process.kill(process.pid, 'SIGKILL'); }
  }
}, every);
`;

/** `parent` is a process id, `rss` bytes. */
export function watchParent(parent: number, rss: number): void {
  const thread = new Worker(WATCH, {
    eval: true,
    execArgv: [],
    workerData: { parent, rss, every: LOOK_MS },
    resourceLimits: { maxOldGenerationSizeMb: WATCH_HEAP_MB },
  });
  thread.unref();
}
