/** Pieces and a rack of one's own for the tests. */
import type { Redis } from 'ioredis';
import { audit, type RackAudit } from '../../src/rack/audit.js';
import type { Happening } from '../../src/rack/events.js';
import { rackKeysOf } from '../../src/rack/store/keys.js';
import { RackStore } from '../../src/rack/store/rack-store.js';
import type { RackPiece } from '../../src/rack/terms.js';

export const BY = { who: 'tests', why: null } as const;

export function rackPiece(
  id: string,
  moulding: string,
  length: number,
  more: Partial<RackPiece> = {},
): RackPiece {
  return {
    id,
    moulding,
    length,
    ends: ['raw', 'raw'],
    flaws: [],
    value: null,
    place: null,
    from: { kind: 'entered' },
    ...more,
  };
}

export function added(piece: RackPiece): Happening {
  return { kind: 'added', how: 'entered', piece };
}

export function rackAt(redis: Redis, prefix: string): RackStore {
  return new RackStore(redis, rackKeysOf(prefix));
}

export const ask = <A>(what: () => Promise<A>): Promise<A> => what();

/** Pieces these ids name, read, and what is to happen, written. */
export async function happen(
  store: RackStore,
  ids: readonly string[],
  happenings: readonly Happening[],
): Promise<void> {
  await store.deal(BY, ask, async () => ({
    known: { pieces: await store.pieces(ids), expected: await store.expected() },
    happenings,
    answer: null,
  }));
}

export async function audited(store: RackStore): Promise<RackAudit> {
  const derived = await store.derived();
  return audit(store.journal(derived.last), derived);
}
