/** A worker in a process of its own, to be killed: argv holds its settings as JSON. Speaks to its parent when ready. */
// First, since what follows keeps the clock it finds.
import './stepped-clock.js';

import { createLog } from '../../src/queue/log.js';
import type { WorkerSettings } from '../../src/queue/settings.js';
import { serveUntilStopped } from '../../src/queue/worker/serve.js';
import { PLANTED } from './service.js';
import { stepClock } from './stepped-clock.js';

const settings = JSON.parse(process.argv[2] ?? '') as WorkerSettings;
process.on('disconnect', () => process.exit(1));
process.on('message', (ms) => stepClock(Number(ms)));
try {
  await serveUntilStopped(settings, { ...createLog(settings.logLevel), entry: PLANTED });
} catch (error) {
  console.error(error);
  process.exit(1);
}
