import { describe, expect, it } from 'vitest';
import { soak } from '../../bench/tools/soak.js';

describe('a short soak', () => {
  it('of 12 batches with 4 kills from a seed loses nothing, publishes nothing twice, leaves nothing behind', async () => {
    const result = await soak({ seed: 'short soak', batches: 12, kills: 4, workers: 2 });
    expect(result).toMatchObject({ batches: 12, lost: 0, notOnce: 0, wrong: 0, left: 0 });
    expect(result.kills).toHaveLength(4);
  }, 180_000);
});
