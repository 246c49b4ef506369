/**
 * The document `pairstop/rack@1`: what lies on a rack, to be imported or shown elsewhere. `state` and `batch` are
 * written but not read: an imported piece is free.
 */
import * as z from 'zod';
import { compare, needUm, supplyUm } from '../../lengths/exact.js';
import { choiceField, idField, lengthField, moneyField, textField } from '../../read/fields.js';
import { FLAWS, ID_LENGTH, LONGEST, RACK_PIECES, SHORTEST } from '../../read/limits.js';
import { InputProblems } from '../../read/problems.js';
import { list, walk } from '../../read/walk.js';
import type { Cents, PieceEnds, Um, Units } from '../../terms.js';
import { type JsonSchema, jsonSchemaOf } from '../json-schema.js';
import { refuseAnother } from '../made.js';
import { joined } from './flaws.js';

const STATES = ['free', 'reserved', 'begun', 'used', 'gone'] as const;

const end = choiceField(['raw', 'sawn', 'mitred'], 'an end as it came, sawn clean, or mitred');

function rackSchema(units: Units) {
  const span = z
    .tuple([lengthField(units, 0, LONGEST), lengthField(units, 0, LONGEST)])
    .describe('a flaw: [from, to], two lengths from the left end, from below to');
  const piece = z
    .strictObject({
      id: idField("the piece's id"),
      moulding: idField("the moulding's id"),
      length: lengthField(units, SHORTEST, LONGEST, ', along the outside edge'),
      ends: z.tuple([end, end]).describe('its left and its right end').prefault(['raw', 'raw']),
      flaws: list(span, 0, FLAWS, 'flaws').prefault([]),
      value: moneyField('what using it is worth, or null for its length').nullable().prefault(null),
      place: textField(ID_LENGTH, 'where it lies, or null').nullable().prefault(null),
      state: choiceField(STATES, 'how it stands; not read').optional(),
      batch: z.string().nullable().describe('the batch it is reserved for or cut by; not read').optional(),
    })
    .describe('a piece: an object');
  return z
    .strictObject({
      schema: z.literal('pairstop/rack@1').describe('"pairstop/rack@1"'),
      units: choiceField(['in', 'mm'], 'what a bare number means'),
      pieces: list(piece, 0, RACK_PIECES, 'pieces'),
    })
    .describe('a rack (pairstop/rack@1): an object');
}

const RACK_SCHEMAS = { in: rackSchema('in'), mm: rackSchema('mm') } as const;

/** A piece as it is written in such a document. */
export interface RackRow {
  readonly id: string;
  readonly moulding: string;
  readonly length: Um;
  readonly ends: PieceEnds;
  readonly flaws: readonly (readonly [Um, Um])[];
  readonly value: Cents | null;
  readonly place: string | null;
}

/** Throws PS_RACK listing every problem. */
export function checkRackDocument(document: unknown): readonly RackRow[] {
  const what = 'the rack is refused';
  refuseAnother(document, 'pairstop/rack@1', 'PS_RACK', what);
  const inches = typeof document === 'object' && document !== null && Reflect.get(document, 'units') === 'in';
  const problems = new InputProblems(document);
  const { whole } = walk(RACK_SCHEMAS[inches ? 'in' : 'mm'], document, problems);
  const seen = new Set<string>();
  for (const [i, piece] of (whole?.pieces ?? []).entries()) {
    if (seen.has(piece.id)) problems.add(['pieces', i, 'id'], 'each id once');
    seen.add(piece.id);
    for (const [j, [from, to]] of piece.flaws.entries()) {
      if (compare(from, to) >= 0) problems.add(['pieces', i, 'flaws', j], '[from, to] with from below to');
      else if (compare(to, piece.length) > 0) problems.add(['pieces', i, 'flaws', j], 'inside the piece');
    }
  }
  problems.throwIfAny('PS_RACK', what);
  return (whole?.pieces ?? []).map(({ id, moulding, length, ends, flaws, value, place }) => ({
    id,
    moulding,
    length: supplyUm(length),
    ends,
    flaws: joined(
      flaws.map(([from, to]) => [supplyUm(from), needUm(to)] as const),
      supplyUm(length),
    ),
    value,
    place,
  }));
}

/** The state of a piece. */
export interface RackStanding extends RackRow {
  readonly state: { readonly kind: (typeof STATES)[number]; readonly batch?: string };
}

/** As JSON: lengths in millimetres. */
export function rackDocument(pieces: readonly RackStanding[]): Readonly<Record<string, unknown>> {
  const mm = (um: Um): number => um / 1000;
  return {
    schema: 'pairstop/rack@1',
    units: 'mm',
    pieces: pieces.map(({ id, moulding, length, ends, flaws, value, place, state }) => ({
      id,
      moulding,
      length: mm(length),
      ends,
      flaws: flaws.map(([from, to]) => [mm(from), mm(to)]),
      value: value === null ? null : value / 100,
      place,
      state: state.kind,
      batch: state.batch ?? null,
    })),
  };
}

export function rackJsonSchema(): JsonSchema {
  return jsonSchemaOf(RACK_SCHEMAS.mm);
}
