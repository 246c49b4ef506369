/** How a command asks the service. The queue is loaded only then. */
import type { Client } from '../queue/client/client.js';

/** Asks the service and closes the connection. */
export async function withClient<T>(work: (client: Client) => Promise<T>): Promise<T> {
  const { workerSettings } = await import('../queue/settings.js');
  const { createClient } = await import('../queue/client/client.js');
  const { redis, prefix, retention, who } = workerSettings(process.env);
  const { startTracing } = await import('../queue/health/tracing.js');
  const tracing = await startTracing(process.env);
  const traced = tracing === null ? {} : { telemetry: tracing.telemetry };
  const client = createClient({ connection: redis, prefix, retention, who, ...traced });
  try {
    return await work(client);
  } finally {
    await client.close();
    await tracing?.close().catch(() => {});
  }
}
