/** Plans of random batches of every kind hold against their batches: the checker finds nothing in any of them. */
import { describe, expect, it } from 'vitest';
import type { BatchDocument } from '../../src/documents/batch/schema.js';
import { PairstopError } from '../../src/errors.js';
import { type Kind, randomBatch } from './batches.js';
import { planned } from './kit.js';

const ROUNDS = 30;

const KINDS: readonly (readonly [string, Kind])[] = [
  ['profiled', { reversible: false }],
  ['reversible', { reversible: true }],
  ['mixed', {}],
  ['scarce', { scarce: true }],
];

/** What a family of batches really held: a family that never meets its rule proves nothing of it. */
interface Met {
  readonly plans: number;
  readonly short: number;
  readonly refused: number;
  readonly flipped: number;
  readonly second: number;
  readonly bought: number;
}

async function planAll(name: string, kind: Kind): Promise<Met> {
  const met = { plans: 0, short: 0, refused: 0, flipped: 0, second: 0, bought: 0 };
  for (let i = 0; i < ROUNDS; i++) {
    const document: BatchDocument = randomBatch(`${name} ${i}`, kind);
    try {
      const plan = await planned(document);
      met.plans += 1;
      if (plan.status === 'short') met.short += 1;
      met.bought += plan.buy.length;
      for (const moulding of plan.mouldings) {
        met.second += moulding.stops.filter((stop) => stop.second !== null).length;
        met.flipped += moulding.sticks.flatMap((stick) => stick.rails).filter((rail) => rail.flipped).length;
      }
    } catch (error) {
      if (!(error instanceof PairstopError) || error.code !== 'PS_BATCH') throw error;
      met.refused += 1;
    }
  }
  return met;
}

describe('random batches', () => {
  it.each(KINDS)(
    '%s',
    async (name, kind) => {
      const met = await planAll(name, kind);
      expect(met.plans).toBeGreaterThan(ROUNDS / 2);
      expect(met.bought).toBeGreaterThan(0);
      expect(met.second).toBeGreaterThan(0);
      expect(met.flipped > 0).toBe(kind.reversible !== false);
      if (kind.scarce === true) expect(met.short).toBeGreaterThan(ROUNDS / 10);
    },
    300_000,
  );
});
