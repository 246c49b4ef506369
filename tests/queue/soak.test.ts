import { describe, expect, it } from 'vitest';
import { soak } from '../../bench/tools/soak.js';

describe('a short soak', () => {
  it('of 10 batches with 5 faults from a seed loses nothing, publishes nothing twice, leaves nothing, names each outage once', async () => {
    const kinds = ['worker', 'redis', 'freeze', 'full', 'disk', 'clock', 'log'] as const;
    const result = await soak({ seed: 'short soak', batches: 10, faults: 5, kinds, workers: 2 });
    expect(result).toMatchObject({ batches: 10, lost: 0, notOnce: 0, wrong: 0, left: 0, unnamed: [] });
    expect(result.faults).toHaveLength(5);
  }, 300_000);
});
