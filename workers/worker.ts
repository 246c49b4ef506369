/** A worker of the service, as a container runs it: the same as `pairstop worker`. */
import { endOf } from '../src/cli/ending.js';
import { createLog } from '../src/queue/log.js';
import { workerSettings } from '../src/queue/settings.js';
import { serveUntilStopped } from '../src/queue/worker/serve.js';

try {
  const settings = workerSettings(process.env);
  await serveUntilStopped(settings, createLog(settings.logLevel));
} catch (error) {
  process.exit(endOf(error));
}
