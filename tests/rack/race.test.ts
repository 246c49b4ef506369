/** The long run, two hundred batches for forty pieces, is in bench/rack.ts. */
import { expect, it } from 'vitest';
import { race } from '../tools/race.js';

it('no piece is promised twice and none is lost, whoever dies', async () => {
  const result = await race({ batches: 48, pieces: 8, workers: 2, kills: 3, outages: 1, seed: 7 });
  expect(result.faults).toEqual([]);
  // Without a conflict it would have shown nothing.
  expect(result.again).toBeGreaterThan(0);
}, 240_000);
