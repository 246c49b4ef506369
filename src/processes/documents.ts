/** Parts and plans as they are stored and sent between processes: sealed, and checked when opened. */
import type { Readable } from 'node:stream';
import * as z from 'zod';
import { readBatchDocument } from '../documents/batch/read.js';
import type { BatchDocument } from '../documents/batch/schema.js';
import { checkComparisonDocument } from '../documents/comparison/read.js';
import type { Comparison } from '../documents/comparison/types.js';
import { checkPlanDocument, readPlan } from '../documents/plan/read.js';
import type { Plan } from '../documents/plan/types.js';
import { PairstopError } from '../errors.js';
import type { MouldingPart } from '../plan/part.js';
import { BATCH_BYTES, LINES, PLAN_BYTES, RAILS } from '../read/limits.js';
import { seal, unseal, unsealing } from './seal.js';

const whole = z.int().min(0).max(Number.MAX_SAFE_INTEGER);

const patterns = z
  .array(
    z.strictObject({
      stock: whole,
      count: whole.min(1),
      segments: z.array(z.array(z.strictObject({ item: whole, count: whole.min(1) })).max(RAILS)).max(RAILS),
    }),
  )
  .max(RAILS);

const handling = z.strictObject({ visits: whole, layouts: whole, splitPairs: whole, offcuts: whole });

const pooling = z.strictObject({
  alone: z
    .array(
      z.strictObject({
        at: whole,
        ordered: whole,
        made: whole,
        cost: whole,
        bound: whole,
        sticks: whole,
        length: whole,
      }),
    )
    .max(LINES),
  coalitions: z
    .array(z.strictObject({ members: z.array(whole).min(2).max(LINES), cost: whole, bound: whole }))
    .max(LINES),
  checked: z.enum(['all', 'pairs', 'none']),
});

/**
 * The fields that assembling and resuming rely on. Lists that end up in the plan are checked there, by the plan's
 * schema and by the checker.
 */
const partSchema = z.strictObject({
  moulding: z.string(),
  plan: z.looseObject({ moulding: z.string(), proof: z.looseObject({ status: z.string() }) }),
  buy: z.array(z.unknown()).max(LINES),
  totals: z.strictObject({
    sticks: whole,
    stockLength: whole,
    railLength: whole,
    offcutLength: whole,
    cost: whole,
    stopSettings: whole,
    cuts: whole,
    stopsSet: z.strictObject({ value: whole, bound: whole }),
    time: whole,
    handling,
    unmerged: z.strictObject({ stopSettings: whole, cost: whole }).nullable(),
  }),
  shortfall: z.looseObject({}).nullable(),
  /** Absent in parts of older programs. */
  shortfallProven: z.boolean().optional(),
  notices: z.array(z.unknown()),
  copies: z.array(whole).max(LINES),
  patterns,
  pooling: pooling.optional(),
  merged: z.strictObject({ lengths: z.array(whole).max(2 * LINES), patterns }).nullable(),
});

function foreign(what: string, moulding: string): PairstopError {
  const allowed = `the stored part of moulding ${JSON.stringify(moulding)}`;
  const problem = { path: '', given: what, allowed };
  return new PairstopError('PS_STORE', `a stored part cannot be used: ${what}`, [problem]);
}

export function sealPart(batch: string, part: MouldingPart): Buffer {
  return seal({ kind: 'part', batch, moulding: part.moulding }, JSON.stringify(part));
}

/** Throws PS_STORE for anything that is not a part of this moulding of this batch. */
export function partOf(batch: string, moulding: string, sealed: Uint8Array): MouldingPart {
  const json: unknown = JSON.parse(unseal({ kind: 'part', batch, moulding }, sealed, PLAN_BYTES));
  const parsed = partSchema.safeParse(json);
  if (!parsed.success) {
    const [issue] = parsed.error.issues;
    throw foreign(
      `${issue?.path.join('.') ?? ''}: ${issue?.message ?? 'not a part'}`.slice(0, 200),
      moulding,
    );
  }
  if (parsed.data.moulding !== moulding || parsed.data.plan.moulding !== moulding) {
    throw foreign(`one of moulding ${JSON.stringify(parsed.data.moulding).slice(0, 100)}`, moulding);
  }
  // Every field relied upon is checked above.
  return { shortfallProven: false, ...(json as Omit<MouldingPart, 'shortfallProven'>) };
}

export function sealPlan(batch: string, plan: Plan): Buffer {
  return seal({ kind: 'plan', batch, moulding: '' }, JSON.stringify(plan));
}

/** The text of a stored document as it unpacks. Throws PS_STORE. */
export function storedText(
  kind: 'batch' | 'plan' | 'comparison',
  batch: string,
  sealed: Uint8Array,
): Promise<Readable> {
  const most = kind === 'batch' ? BATCH_BYTES : PLAN_BYTES;
  return unsealing({ kind, batch, moulding: '' }, sealed, most);
}

/** Throws PS_STORE, PS_JSON or PS_BATCH. */
export function documentOf(batch: string, sealed: Uint8Array): BatchDocument {
  return readBatchDocument(unseal({ kind: 'batch', batch, moulding: '' }, sealed, BATCH_BYTES)).document;
}

/** Throws PS_STORE, or PS_PLAN for a document that is no plan. */
export function planOf(batch: string, sealed: Uint8Array): Plan {
  return readPlan(unseal({ kind: 'plan', batch, moulding: '' }, sealed, PLAN_BYTES));
}

/** Of a process of this very run, which has checked it as `soundPlan` does: the digest says that it is the same. Throws PS_STORE. */
export function planOfOwn(batch: string, sealed: Uint8Array): Plan {
  return JSON.parse(unseal({ kind: 'plan', batch, moulding: '' }, sealed, PLAN_BYTES)) as Plan;
}

/** Throws PS_STORE, or PS_PLAN for a document that is no comparison. */
export function comparisonOf(key: string, document: Uint8Array): Comparison {
  const text = unseal({ kind: 'comparison', batch: key, moulding: '' }, document, PLAN_BYTES);
  return checkComparisonDocument(JSON.parse(text));
}

/** A plan put together from stored parts, before the checker looks at it. Throws PS_STORE. */
export function soundPlan(plan: Plan): Plan {
  try {
    return checkPlanDocument(plan);
  } catch (error) {
    if (!(error instanceof PairstopError)) throw error;
    throw new PairstopError('PS_STORE', `stored parts do not make a plan: ${error.message}`, error.problems);
  }
}
