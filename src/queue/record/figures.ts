/** Small facts kept beside sealed parts, and failures, as they lie in the record. */
import * as z from 'zod';
import type { PlanProof } from '../../documents/plan/types.js';
import { catalogue, type ErrorCode, type InputProblem, PairstopError } from '../../errors.js';

/** How good a part is. */
export interface PartFigures {
  readonly proof: PlanProof;
  readonly frames: number;
  readonly ordered: number;
  /** Some run is more than the bench holds. Absent from earlier programs. */
  readonly overfull?: boolean | undefined;
}

/** Further fields are a newer version's. */
const figuresSchema = z.object({
  proof: z.object({
    status: z.enum(['optimal', 'within', 'unproven']),
    measure: z.enum(['cost', 'length']),
    value: z.number(),
    bound: z.number(),
  }),
  frames: z.int().min(0),
  ordered: z.int().min(0),
  overfull: z.boolean().optional(),
});

export function figuresOf({ proof, frames, ordered, overfull = false }: PartFigures): PartFigures {
  return { proof, frames, ordered, ...(overfull && { overfull }) };
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/** Null for anything else. */
export function figuresFrom(text: string): PartFigures | null {
  return figuresSchema.safeParse(parsed(text)).data ?? null;
}

/** Why a batch or a moulding has no plan. */
export interface Failure {
  readonly code: ErrorCode;
  readonly message: string;
  readonly problems: readonly InputProblem[];
}

const MESSAGE_KEPT = 2_000;
const PROBLEMS_KEPT = 50;

export function failureOf(error: unknown): Failure {
  if (error instanceof PairstopError) {
    const { code, message, problems } = error;
    return { code, message: message.slice(0, MESSAGE_KEPT), problems: problems.slice(0, PROBLEMS_KEPT) };
  }
  const message = error instanceof Error ? error.message : 'a fault of an unknown kind';
  return { code: 'PS_INTERNAL', message: message.slice(0, MESSAGE_KEPT), problems: [] };
}

const text = z.string().max(10_000);

function isCode(code: string): code is ErrorCode {
  return Object.hasOwn(catalogue, code);
}

/** Further fields, and codes that are not in this catalogue, are a newer version's. */
const failureSchema = z.object({
  code: z.string().transform((code): ErrorCode => (isCode(code) ? code : 'PS_FAILED')),
  message: text,
  problems: z.array(z.object({ path: text, given: text, allowed: text })).max(PROBLEMS_KEPT),
});

/** What was stored, or PS_STORE where that is not a failure. */
export function failureFrom(given: string): Failure {
  const { data } = failureSchema.safeParse(parsed(given));
  return data ?? { code: 'PS_STORE', message: 'the stored reason of the failure is damaged', problems: [] };
}

export function errorFrom({ code, message, problems }: Failure): PairstopError {
  return new PairstopError(code, message, problems);
}
