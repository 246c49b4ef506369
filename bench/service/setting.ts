/** Shared by all figures of the service. */

import { type Client, createClient } from '../../src/queue/client/client.js';
import { TIMING } from '../../src/queue/settings.js';
import { Killable } from '../../tests/tools/killable.js';
import { TestRedis } from '../../tests/tools/redis.js';
import type { TestSettings } from '../../tests/tools/service.js';

/** One measurement; `kept`: whether the promise was kept. */
export interface Figure {
  readonly what: string;
  readonly kept: boolean;
  readonly [measured: string]: unknown;
}

export interface Setting {
  readonly redis: TestRedis;
  readonly client: Client;
  readonly workers: readonly Killable[];
}

/** Redis and workers with the service's own timings, ended afterwards. */
export async function withService<T>(
  workers: readonly TestSettings[],
  work: (setting: Setting) => Promise<T>,
): Promise<T> {
  const redis = await TestRedis.start();
  const client = createClient({ connection: redis.url });
  const started: Killable[] = [];
  try {
    for (const settings of workers) {
      started.push(
        await Killable.start(redis.url, { timing: TIMING, heapMb: 1_024, rssMb: 2_048, ...settings }),
      );
    }
    return await work({ redis, client, workers: started });
  } finally {
    await client.close();
    await Promise.all(started.map((worker) => worker.end('SIGTERM')));
    await redis.end();
  }
}

/** The value below which a share of the values lies, by nearest rank. */
export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? Number.NaN;
}

export function round(value: number, digits = 1): number {
  return Number(value.toFixed(digits));
}

export function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}
