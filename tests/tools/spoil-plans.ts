/** Batches of every kind with a plan for each that holds. Where a number is not obvious its sum stands beside it. */

import { pool } from './spoil-plans-pool.js';
import { twoRuns } from './spoil-plans-runs.js';
import { merged, packs, ranked, rings, shortage } from './spoil-plans-shop.js';
import { nested, polygons, profiled } from './spoil-plans-wood.js';

export const cases = {
  profiled,
  nested,
  polygons,
  rings,
  shortage,
  ranked,
  merged,
  packs,
  twoRuns,
  pool,
} as const;
export type CaseName = keyof typeof cases;
