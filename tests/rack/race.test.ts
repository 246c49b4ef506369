/** The long run, two hundred batches for forty pieces, is in bench/rack.ts. */
import { expect, it } from 'vitest';
import { race } from '../tools/race.js';

it('no piece is promised twice and none is lost, whoever dies', async () => {
  const result = await race({ batches: 30, pieces: 6, workers: 2, kills: 2, outages: 1, seed: 7 });
  expect(result.faults).toEqual([]);
  // Without a conflict it would have shown nothing.
  expect(result.again).toBeGreaterThan(0);
}, 240_000);
