/** What lies in Redis, read back: every text checked, every damage told. */
import * as z from 'zod';
import { PairstopError } from '../../errors.js';
import { expectedSchema, pieceSchema } from '../events.js';
import type { ExpectedLine, PieceState, RackPiece } from '../terms.js';

export function damagedRack(what: string): PairstopError {
  return new PairstopError('PS_STORE', `the rack's record is damaged: ${what}; see: pairstop rack audit`);
}

export function newerRack(): PairstopError {
  return new PairstopError(
    'PS_STORE',
    'the rack was written by a newer pairstop; bring this one up to that version',
  );
}

function json(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

const begunSchema = z.strictObject({
  batch: z.string(),
  left: z.int().min(0),
  rails: z.array(z.string()),
  spoiled: z.array(z.string()),
});

/** Throws PS_STORE. */
export function stateFrom(text: string): PieceState {
  if (text === 'free' || text === 'gone') return { kind: text };
  const [, kind = '', rest = ''] = /^(reserved|used|begun) (.+)$/s.exec(text) ?? [];
  if (kind === 'reserved' || kind === 'used') return { kind, batch: rest };
  const { data } = begunSchema.safeParse(kind === 'begun' ? json(rest) : null);
  if (data === undefined) throw damagedRack(`${JSON.stringify(text.slice(0, 60))} for a state`);
  return { kind: 'begun', ...data };
}

/** Throws PS_STORE. */
export function pieceFrom(text: string): RackPiece {
  const { data } = pieceSchema.safeParse(json(text));
  if (data === undefined) throw damagedRack(`${JSON.stringify(text.slice(0, 60))} for a piece`);
  return data;
}

/** Throws PS_STORE. */
export function expectedFrom(text: string): ExpectedLine {
  const { data } = expectedSchema.safeParse(json(text));
  if (data === undefined) throw damagedRack(`${JSON.stringify(text.slice(0, 60))} for what is expected`);
  return data;
}
