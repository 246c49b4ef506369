/** A comparison through the queue: one moulding's in a solver process, then all of them together. */
import * as z from 'zod';
import { assembleComparison, isPriced } from '../compare/compare.js';
import { compareOrderHere } from '../compare/here.js';
import type { Compared } from '../compare/moulding.js';
import { checkComparisonDocument } from '../documents/comparison/read.js';
import { PairstopError } from '../errors.js';
import { whyNotPlanned } from '../plan/notices.js';
import type { Unplanned } from '../plan/part.js';
import { shopPiece } from '../rack/shop-pieces.js';
import type { RackPiece } from '../rack/terms.js';
import { PLAN_BYTES } from '../read/limits.js';
import type { Engine } from '../solve/engine.js';
import { narrowed } from '../stock/narrow.js';
import { ResolvedBatch, withoutImpossible } from '../stock/resolved.js';
import type { Batch } from '../terms.js';
import { seal, unseal } from './seal.js';
import type { SealedPart, SealedPlan } from './solver/tasks.js';

/** The share of a moulding's time that its questions may take; the rest is for laying plans out. */
const ASKING_SHARE = 0.9;

const comparedSchema = z.strictObject({
  document: z.looseObject({ moulding: z.string() }),
  notices: z.array(z.string()),
});

/** Throws PS_STORE for anything that is not the comparison of this moulding. */
function comparedOf(key: string, moulding: string, sealed: Uint8Array): Compared {
  const json: unknown = JSON.parse(unseal({ kind: 'part', batch: key, moulding }, sealed, PLAN_BYTES));
  const { data } = comparedSchema.safeParse(json);
  if (data?.document.moulding !== moulding) {
    throw new PairstopError('PS_STORE', `a stored part is not the comparison of ${JSON.stringify(moulding)}`);
  }
  // The whole comparison is checked once it is put together.
  return json as Compared;
}

function sealed(key: string, batch: Batch, moulding: string, compared: Compared): SealedPart {
  const { cost, bound } = compared.document.recommendation;
  const ordered = batch.frames.reduce(
    (sum, line) => sum + (line.moulding === moulding ? line.quantity : 0),
    0,
  );
  const [value, least] = [cost ?? 0, bound ?? 0];
  const status = least >= value ? 'optimal' : least > 0 ? 'within' : 'unproven';
  return {
    moulding,
    sealed: seal({ kind: 'part', batch: key, moulding }, JSON.stringify(compared)),
    proof: { status, measure: 'cost', value, bound: least },
    frames: cost === null ? 0 : ordered,
    ordered,
  };
}

export interface PartRequest {
  readonly key: string;
  readonly moulding: string;
  /** Milliseconds. */
  readonly budget: number;
  /** What an earlier attempt finished. */
  readonly start: Uint8Array | null;
}

export function comparePart(
  { key, moulding, budget, start }: PartRequest,
  ordered: ResolvedBatch,
  engine: Engine,
): SealedPart {
  const { resolved } = withoutImpossible(ordered);
  const { batch } = resolved;
  if (start !== null) {
    try {
      return sealed(key, batch, moulding, comparedOf(key, moulding, start));
    } catch {
      // A damaged one only costs its head start.
    }
  }
  const order = resolved.order(moulding);
  const now = (): number => performance.now();
  const clock = { now, deadline: now() + budget * ASKING_SHARE };
  return sealed(key, batch, moulding, compareOrderHere(batch, order, isPriced(batch), engine, clock));
}

export function assembleParts(
  key: string,
  resolved: ResolvedBatch,
  parts: readonly { readonly moulding: string; readonly sealed: Uint8Array }[],
  failed: readonly Unplanned[],
  rack: readonly RackPiece[],
): SealedPlan {
  const { batch } = resolved;
  const results = parts.map((part) => comparedOf(key, part.moulding, part.sealed));
  const known = new Set(parts.map(({ moulding }) => moulding));
  const missing = batch.mouldings.some(
    ({ id }) => !known.has(id) && batch.offers.some(({ moulding }) => moulding === id),
  );
  const found = assembleComparison(missing ? new ResolvedBatch(narrowed(batch, known)) : resolved, results);
  const comparison = checkComparisonDocument({
    ...found,
    status: failed.length === 0 ? found.status : 'short',
    ...(batch.rack !== null && { rack: rack.map(shopPiece) }),
    notices: [...failed.map(whyNotPlanned), ...found.notices],
  });
  const label = { kind: 'comparison', batch: key, moulding: '' } as const;
  return {
    sealed: seal(label, JSON.stringify(comparison)),
    status: comparison.status,
    cost: comparison.totals.cost,
    seconds: null,
    takes: [],
    buys: [],
    members: [],
  };
}
