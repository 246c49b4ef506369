/** A recut of a batch that is planned from the rack: free pieces are drawn on, and reserved as it is kept. */
import type { Recut } from '../../documents/recut/types.js';
import { PairstopError } from '../../errors.js';
import { recutBatch } from '../../processes/recut-batch.js';
import type { Happening, Signed } from '../../rack/events.js';
import { shopMouldings, shopPiece, withMorePieces } from '../../rack/shop-pieces.js';
import type { Deal, RackStore } from '../../rack/store/rack-store.js';
import type { Shelved } from '../../rack/terms.js';
import type { CutWork } from './cut-deal.js';
import type { RackRecutOptions } from './desk-api.js';

/** Pieces that others take while the recut is made: so often it is made anew. */
const TRIES = 8;

type Ask = <A>(what: () => Promise<A>) => Promise<A>;

/** A piece of the recut is gone, or is described otherwise. */
class PieceGone extends Error {}

export async function recutFromRack(
  rack: RackStore,
  { batch: ordered, plan }: CutWork,
  options: RackRecutOptions,
  by: Signed,
  ask: Ask,
): Promise<Recut> {
  const { lost, told = null, flaws = [], reuse = [], work = plan, keep } = options;
  if (ordered.rack === null) {
    const given = `${JSON.stringify(ordered.id)}, planned from sticks of its own`;
    throw new PairstopError('PS_RACK', `batch: given ${given}; allowed: a batch with "rack": "shop"`);
  }
  const planned = new Set((work.rack ?? []).map(({ id }) => id));
  const timeLimit = Math.min(ordered.options.timeLimit, options.timeLimit ?? Number.POSITIVE_INFINITY);
  for (let tries = 0; tries < TRIES; tries++) {
    const offered = await ask(() => mayTake(rack, ordered, planned));
    const pieces = offered.map(({ piece }) => piece);
    const whole = withMorePieces(ordered, work, pieces);
    const batch = { ...whole, options: { ...whole.options, timeLimit } };
    const made = await recutBatch({ batch, plan: work, lost, told, flaws, reuse });
    const refs = new Set(
      made.mouldings.flatMap(({ sticks }) =>
        sticks.flatMap(({ source, ref }) => (source === 'rack' && !planned.has(ref) ? [ref] : [])),
      ),
    );
    const taken = offered.filter(({ piece }) => refs.has(piece.id));
    const used = [...(work.rack ?? []), ...taken.map(({ piece }) => shopPiece(piece))];
    const recut: Recut = used.length === 0 ? made : { ...made, rack: used };
    try {
      const beside = await keep?.(recut);
      await rack.deal(by, ask, () => taking(rack, ordered.id, taken, planned), beside);
      return recut;
    } catch (error) {
      if (!(error instanceof PieceGone)) throw error;
    }
  }
  throw new PairstopError('PS_RACK', 'pieces of the rack are taken by others all the time; try again');
}

/** What is free, and what an earlier recut of the batch reserved and this one may do without. */
async function mayTake(
  rack: RackStore,
  ordered: CutWork['batch'],
  planned: ReadonlySet<string>,
): Promise<readonly Shelved[]> {
  const held = (await rack.pieces(await rack.held(ordered.id))).filter(
    ({ piece, state }) =>
      state.kind === 'reserved' && !planned.has(piece.id) && piece.from.kind !== 'delivery',
  );
  const free: Shelved[] = [];
  for (const moulding of shopMouldings(ordered)) free.push(...(await rack.free(moulding)));
  return [...held, ...free];
}

/** Throws PieceGone. */
async function taking(
  rack: RackStore,
  batch: string,
  taken: readonly Shelved[],
  planned: ReadonlySet<string>,
): Promise<Deal<null>> {
  const [now, held] = [
    await rack.pieces(taken.map(({ piece }) => piece.id)),
    await rack.pieces(await rack.held(batch)),
  ];
  const revisions = new Map(taken.map(({ piece, revision }) => [piece.id, revision]));
  const mine = now.filter(
    ({ piece, state, revision }) =>
      revisions.get(piece.id) === revision &&
      (state.kind === 'free' || (state.kind === 'reserved' && state.batch === batch)),
  );
  if (mine.length < taken.length) throw new PieceGone();
  const reserve = mine.flatMap(({ piece, state }) => (state.kind === 'free' ? [piece.id] : []));
  const idle = held.filter(
    ({ piece, state }) =>
      state.kind === 'reserved' &&
      !planned.has(piece.id) &&
      !revisions.has(piece.id) &&
      piece.from.kind !== 'delivery',
  );
  const happenings: Happening[] = [];
  if (reserve.length > 0) happenings.push({ kind: 'reserved', batch, pieces: reserve });
  if (idle.length > 0) {
    happenings.push({ kind: 'released', batch, how: 'unused', pieces: idle.map(({ piece }) => piece.id) });
  }
  return { known: { pieces: [...mine, ...idle], expected: [] }, happenings, answer: null };
}
