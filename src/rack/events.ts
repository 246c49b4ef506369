/**
 * What can happen to the rack: one journal entry each, JSON, never changed afterwards. An entry carries the version of
 * this list; one of a newer version is refused, not guessed at.
 */
import * as z from 'zod';
import { PairstopError } from '../errors.js';
import { LONGEST, MONEY, SHORTEST } from '../read/limits.js';
import type { ExpectedLine, RackPiece } from './terms.js';

export const EVENT_VERSION = 1;

const um = z.int().min(0).max(Number.MAX_SAFE_INTEGER);
const text = z.string().min(1).max(400);
const end = z.enum(['raw', 'sawn', 'mitred']);

export const pieceSchema: z.ZodType<RackPiece> = z.strictObject({
  id: text,
  moulding: text,
  length: z.int().min(SHORTEST).max(LONGEST),
  ends: z.tuple([end, end]),
  flaws: z.array(z.tuple([um, um])),
  value: z
    .int()
    .min(0)
    .max(MONEY * 100)
    .nullable(),
  place: text.nullable(),
  from: z.discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('entered') }),
    z.strictObject({ kind: z.literal('delivery'), batch: text, offer: text }),
    z.strictObject({ kind: z.literal('offcut'), batch: text, of: text }),
  ]),
});

export const expectedSchema: z.ZodType<ExpectedLine> = z.strictObject({
  batch: text,
  offer: text,
  moulding: text,
  length: z.int().min(SHORTEST).max(LONGEST),
  count: z.int().min(0),
});

const common = { v: z.literal(EVENT_VERSION), who: text, why: text.nullable() };
const ids: z.ZodType<readonly string[]> = z.array(text).min(1);
const names: z.ZodType<readonly string[]> = z.array(text);
const linesSchema: z.ZodType<readonly ExpectedLine[]> = z.array(expectedSchema).min(1);
const piecesSchema: z.ZodType<readonly RackPiece[]> = z.array(pieceSchema);

const eventSchema = z.discriminatedUnion('kind', [
  /** A piece that nobody bought through a plan; `how` it came to be known. */
  z.strictObject({
    ...common,
    kind: z.literal('added'),
    how: z.enum(['entered', 'imported', 'found']),
    piece: pieceSchema,
  }),
  z.strictObject({ ...common, kind: z.literal('moved'), piece: text, place: text.nullable() }),
  /** The whole description as it is from now on. */
  z.strictObject({ ...common, kind: z.literal('edited'), piece: pieceSchema }),
  z.strictObject({
    ...common,
    kind: z.literal('removed'),
    how: z.enum(['removed', 'missing']),
    piece: text,
  }),
  z.strictObject({ ...common, kind: z.literal('reserved'), batch: text, pieces: ids }),
  z.strictObject({
    ...common,
    kind: z.literal('released'),
    batch: text,
    how: z.enum(['cancelled', 'replaced', 'expired', 'unused']),
    pieces: ids,
  }),
  z.strictObject({
    ...common,
    kind: z.literal('expected'),
    batch: text,
    lines: linesSchema,
  }),
  /** A stick that was bought; beyond what the plan cuts it is free. */
  z.strictObject({
    ...common,
    kind: z.literal('received'),
    batch: text,
    offer: text,
    reserve: z.boolean(),
    piece: pieceSchema,
  }),
  /** So many of what was expected will not come. */
  z.strictObject({
    ...common,
    kind: z.literal('dropped'),
    batch: text,
    offer: text,
    count: z.int().min(1),
  }),
  /**
   * Rails of one piece. `wood` is theirs alone. `done`: nothing more is cut from it for this batch; then wood, waste and
   * offcuts are together what was left of it.
   */
  z.strictObject({
    ...common,
    kind: z.literal('cut'),
    batch: text,
    piece: text,
    rails: names,
    spoiled: names,
    wood: um,
    waste: um,
    offcuts: piecesSchema,
    done: z.boolean(),
  }),
]);

export type RackEvent = z.output<typeof eventSchema>;

/** An event before it is known who caused it. */
export type Happening = RackEvent extends infer E
  ? E extends RackEvent
    ? Omit<E, 'v' | 'who' | 'why'>
    : never
  : never;

export interface JournalEntry {
  /** Of the stream: milliseconds since 1970 by Redis's clock, a hyphen, a number. */
  readonly id: string;
  readonly event: RackEvent;
}

export interface Signed {
  readonly who: string;
  readonly why: string | null;
}

export function signed(happening: Happening, { who, why }: Signed): RackEvent {
  return { v: EVENT_VERSION, who, why, ...happening } as RackEvent;
}

function damagedEntry(id: string, what: string): PairstopError {
  return new PairstopError('PS_STORE', `the rack's journal is damaged at ${id}: ${what}`);
}

/** Throws PS_STORE for what is no event, or one of a newer program. */
export function eventFrom(id: string, given: string): RackEvent {
  let json: unknown;
  try {
    json = JSON.parse(given);
  } catch {
    throw damagedEntry(id, 'no JSON');
  }
  const version: unknown = typeof json === 'object' && json !== null ? Reflect.get(json, 'v') : undefined;
  if (typeof version === 'number' && version > EVENT_VERSION) {
    throw new PairstopError(
      'PS_STORE',
      `the rack's journal was written by a newer pairstop: entry ${id} has version ${version}; ` +
        `allowed: up to ${EVENT_VERSION}`,
    );
  }
  const { data, error } = eventSchema.safeParse(json);
  if (data !== undefined) return data;
  throw damagedEntry(id, `${error.issues[0]?.path.join('.') ?? ''}: no event of the rack`);
}
