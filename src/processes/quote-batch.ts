/** A quote, planned in solver processes: both sides at once. */
import { availableParallelism } from 'node:os';
import { checkBatch } from '../documents/batch/read.js';
import type { BatchDocument } from '../documents/batch/schema.js';
import type { QuoteAgainst } from '../documents/quote/against.js';
import type { Quote } from '../documents/quote/schema.js';
import { compose, type PoolMember } from '../night/compose.js';
import { piecesFor, quoteOf, quoteSides } from '../night/quote.js';
import { withShopPieces } from '../rack/shop-pieces.js';
import type { RackPiece } from '../rack/terms.js';
import type { Batch } from '../terms.js';
import { localPool, planBeside } from './plan-batch.js';
import { SharedTime } from './share.js';
import { SolverPool } from './solver/pool.js';
import { Turnstile } from './solver/turnstile.js';

/** Seconds of solving for both sides. The plans of 500 frames are proven in less, as a rule. */
const SOLVE_SECONDS = 1.2;
/** Milliseconds a solver process may overrun its part of that. A new process is not there sooner. */
const GRACE_MS = 700;
const SIDES = 2;

export interface QuoteBatchOptions {
  /** `nothing` unless the pool or pieces of a rack are given. */
  readonly against?: QuoteAgainst;
  /** The orders that wait, in the order of arrival. */
  readonly night?: readonly BatchDocument[];
  /** What is free on the rack. */
  readonly rack?: readonly RackPiece[];
  /** The shop's time zone, in which a day ends; an IANA name, by default UTC. */
  readonly zone?: string;
  readonly signal?: AbortSignal;
}

export interface QuoteFound {
  readonly quote: Quote;
  /** Pieces of the rack that the order would be cut from. */
  readonly pieces: readonly string[];
}

const ONLY = 'quote';

function memberOf(document: BatchDocument, shop: boolean): PoolMember {
  const { rack: _, ...rest } = document;
  const own: BatchDocument = shop ? { ...rest, rack: 'shop' } : rest;
  return { document: own, batch: checkBatch(own) };
}

/** What the order makes with those it is added to, and its lines there. */
function composed(
  order: BatchDocument,
  against: QuoteAgainst,
  night: readonly BatchDocument[],
  zone: string,
): { readonly batch: Batch; readonly lines: readonly string[]; readonly batches: number } {
  const shop = against === 'rack' || (against === 'night' && order.rack === 'shop');
  const own = memberOf(order, shop);
  const others = night
    .filter(({ id }) => id !== order.id)
    .map((document) => ({ document, batch: checkBatch(document) }));
  const groups = compose([...others, own], () => ONLY, zone);
  const group = groups.find(({ members }) => members.includes(order.id))!;
  const part = group.document.batches!.find(({ id }) => id === order.id)!;
  return {
    batch: checkBatch(group.document),
    lines: part.lines.map(({ frame }) => frame),
    batches: group.members.length - 1,
  };
}

/** In processes that are there already. Throws PS_BATCH for a batch that is refused. */
export async function quoteIn(
  pool: SolverPool,
  order: BatchDocument,
  { against = 'nothing', night = [], rack = [], zone = 'UTC', signal }: QuoteBatchOptions = {},
): Promise<QuoteFound> {
  const { batch, lines, batches } = composed(order, against, against === 'night' ? night : [], zone);
  const sides = quoteSides(batch.rack === null ? batch : withShopPieces(batch, rack), lines, SOLVE_SECONDS);
  const waiting = sides.with.mouldings.length + (sides.without?.mouldings.length ?? 0);
  const slots = Math.min(pool.size, availableParallelism(), waiting);
  const time = new SharedTime({
    limit: 1000 * SOLVE_SECONDS,
    waiting,
    slots,
    passing: true,
    now: () => performance.now(),
  });
  const turns = new Turnstile({ all: slots, large: slots });
  const together = { time, turns, grace: GRACE_MS, ...(signal !== undefined && { signal }) };
  const plan = (side: Batch) => planBeside(pool, side, together);
  const [withOrder, without] = await Promise.all([
    plan(sides.with),
    sides.without === null ? null : plan(sides.without),
  ]);
  const others = sides.without?.frames.reduce((sum, { quantity }) => sum + quantity, 0) ?? 0;
  const beside = { batches, frames: others, pieces: batch.rack === null ? 0 : rack.length };
  const quote = quoteOf(sides, withOrder, without, { order: order.id, against, beside });
  return { quote, pieces: piecesFor(sides, withOrder) };
}

/** What the order adds in wood, money and hours. Throws PS_BATCH, PS_SOLVER, PS_CANCELLED. */
export async function quoteBatch(order: BatchDocument, options: QuoteBatchOptions = {}): Promise<Quote> {
  const pool = new SolverPool(localPool(SIDES));
  try {
    const { quote } = await quoteIn(pool, order, options);
    return quote;
  } finally {
    await pool.close();
  }
}
