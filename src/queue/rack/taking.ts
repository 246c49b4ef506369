/** What a batch planned from the shop's rack is offered, and what its plan takes as it is published. */
import { PairstopError } from '../../errors.js';
import type { SealedPlan } from '../../processes/solver/tasks.js';
import { changeOf } from '../../rack/change.js';
import type { Happening } from '../../rack/events.js';
import { type OfferedPiece, offeredFrom, offeredText } from '../../rack/shop-pieces.js';
import { changeText, type RackStore } from '../../rack/store/rack-store.js';
import { expectedKey } from '../../rack/sum.js';
import { batchOfJob } from '../names.js';
import { fieldOf } from '../record/fields.js';
import type { Attempt, Taking } from '../record/steps.js';
import type { Store } from '../record/store.js';
import type { Timing } from '../settings.js';

const CHUNK = 100;
/** A ticket is kept for a batch that is not heard of for so many lock times: its worker may have to be found dead first. */
const LOCKS_SILENT = 4;
/** How long a batch waits before it looks again whether it has its turn: for each batch before it, at most. */
const LOOK_MS = 150;
const LOOK_MOST_MS = 5_000;

const BY = { who: 'service', why: null } as const;

export function silenceOf({ lock }: Timing): number {
  return LOCKS_SILENT * lock;
}

export function pauseFor(before: number): number {
  return Math.min(LOOK_MS * before, LOOK_MOST_MS);
}

function read(text: string, moulding: string): readonly OfferedPiece[] {
  const pieces = offeredFrom(text);
  if (pieces !== null) return pieces;
  const of = `the pieces moulding ${JSON.stringify(moulding)} is planned with`;
  throw new PairstopError('PS_STORE', `the record of the batch is damaged: ${of}`);
}

/** What quotes hold of a moulding for this very batch, or for batches of this night. */
async function heldFor(
  rack: RackStore,
  store: Store,
  jobId: string,
  moulding: string,
): Promise<readonly OfferedPiece[]> {
  const [holds] = await store.read(jobId, ['holds']);
  const found: OfferedPiece[] = [];
  for (const job of holds === undefined ? [] : (JSON.parse(holds.toString()) as string[])) {
    const held = batchOfJob(job);
    for (const { piece, revision } of await rack.reserved(held)) {
      if (piece.moulding === moulding) found.push({ piece, revision, held });
    }
  }
  return found;
}

/** What is free of a moulding: found now, or by an earlier attempt of this round. */
export async function resolved(
  rack: RackStore,
  store: Store,
  attempt: Attempt,
  moulding: string,
): Promise<readonly OfferedPiece[] | 'stale' | 'ended'> {
  const held = await heldFor(rack, store, attempt.jobId, moulding);
  const free = await rack.free(moulding);
  const found = await store.attempts.resolve(attempt, offeredText([...free, ...held]));
  return found.kind === 'go' ? read(found.pieces, moulding) : found.kind;
}

/** What each moulding was planned with, in their order. */
export async function offered(
  store: Store,
  jobId: string,
  mouldings: readonly string[],
): Promise<readonly (readonly OfferedPiece[])[]> {
  const found: (readonly OfferedPiece[])[] = [];
  for (let from = 0; from < mouldings.length; from += CHUNK) {
    const some = mouldings.slice(from, from + CHUNK);
    const texts = await store.read(
      jobId,
      some.map((_, i) => fieldOf('rack', from + i)),
    );
    some.forEach((moulding, i) => {
      const text = texts[i];
      found.push(text === undefined ? [] : read(text.toString(), moulding));
    });
  }
  return found;
}

/** Null where the plan neither takes nor buys anything. */
export async function takingOf(
  rack: RackStore,
  batch: string,
  plan: SealedPlan,
  pieces: readonly OfferedPiece[],
  silence: number,
): Promise<Taking | null> {
  if (plan.takes.length === 0 && plan.buys.length === 0) return null;
  const byId = new Map(pieces.map((one) => [one.piece.id, one]));
  const taken = plan.takes.map((id) => {
    const found = byId.get(id);
    if (found === undefined)
      throw new PairstopError('PS_INTERNAL', `the plan cuts ${id}, which nobody offered`);
    const { piece, revision, held } = found;
    const state =
      held === undefined ? ({ kind: 'free' } as const) : ({ kind: 'reserved', batch: held } as const);
    return { piece, revision, state };
  });
  const happenings: Happening[] = [];
  // From the hold to the plan in one step, so that nobody takes them in between.
  for (const hold of new Set(taken.flatMap(({ state }) => (state.kind === 'free' ? [] : [state.batch])))) {
    const own = taken.filter(({ state }) => state.kind !== 'free' && state.batch === hold);
    happenings.push({
      kind: 'released',
      batch: hold,
      how: 'replaced',
      pieces: own.map(({ piece }) => piece.id),
    });
  }
  if (taken.length > 0) happenings.push({ kind: 'reserved', batch, pieces: plan.takes });
  if (plan.buys.length > 0) happenings.push({ kind: 'expected', batch, lines: plan.buys });
  const keys = new Set(plan.buys.map(({ offer }) => expectedKey(batch, offer)));
  const expected = plan.buys.length === 0 ? [] : await rack.expected(batch);
  const known = {
    pieces: taken,
    expected: expected.filter(({ offer }) => keys.has(expectedKey(batch, offer))),
  };
  return {
    change: changeText(changeOf(known, happenings, BY)),
    mouldings: [...new Set(taken.map(({ piece }) => piece.moulding))],
    silence,
  };
}
