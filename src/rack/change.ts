/** Events about to be written, and all they change: the sum before and after, compared. */
import type { Um } from '../terms.js';
import { type Happening, type Signed, signed } from './events.js';
import { advance, expectedKey, type Present } from './sum.js';
import { type ExpectedLine, holderOf, NO_WOOD, type PieceState, type Shelved } from './terms.js';

/** What is known of the rack before a change: only what the change touches. */
export interface Known {
  readonly pieces: readonly Shelved[];
  readonly expected: readonly ExpectedLine[];
}

export interface PieceChange {
  readonly before: Shelved | null;
  readonly after: Shelved;
  /** The event that describes it anew, by its place in the list; −1: its description stays. */
  readonly described: number;
}

/** All of it is written in one step, or nothing where the rack is no longer as it was. */
export interface RackChange {
  readonly events: readonly string[];
  readonly pieces: readonly PieceChange[];
  readonly expected: readonly { readonly key: string; readonly before: string; readonly after: string }[];
  readonly wood: readonly { readonly field: string; readonly by: Um }[];
}

export const NO_CHANGE: RackChange = { events: [], pieces: [], expected: [], wood: [] };

/** A state as it lies in the store. */
export function stateText(state: PieceState): string {
  switch (state.kind) {
    case 'free':
    case 'gone':
      return state.kind;
    case 'reserved':
    case 'used':
      return `${state.kind} ${state.batch}`;
    case 'begun': {
      const { batch, left, rails, spoiled } = state;
      return `begun ${JSON.stringify({ batch, left, rails, spoiled })}`;
    }
    default:
      return state satisfies never;
  }
}

/** A description as it lies in the store: always the same text for the same piece. */
export function pieceText({ piece }: Pick<Shelved, 'piece'>): string {
  const { id, moulding, length, ends, flaws, value, place, from } = piece;
  const provenance =
    from.kind === 'entered'
      ? { kind: from.kind }
      : from.kind === 'delivery'
        ? { kind: from.kind, batch: from.batch, offer: from.offer }
        : { kind: from.kind, batch: from.batch, of: from.of };
  return JSON.stringify({ id, moulding, length, ends, flaws, value, place, from: provenance });
}

export function expectedText({ batch, offer, moulding, length, count }: ExpectedLine): string {
  return JSON.stringify({ batch, offer, moulding, length, count });
}

const DESCRIBED = /^#(\d+)$/;

/** Throws PS_RACK for what the rack does not allow. */
export function changeOf(known: Known, happenings: readonly Happening[], by: Signed): RackChange {
  const events = happenings.map((happening) => signed(happening, by));
  const present: Present = {
    pieces: new Map(known.pieces.map((shelved) => [shelved.piece.id, shelved])),
    expected: new Map(known.expected.map((line) => [expectedKey(line.batch, line.offer), line])),
    wood: new Map(),
  };
  const before = { pieces: new Map(present.pieces), expected: new Map(present.expected) };
  events.forEach((event, i) => {
    advance(present, { id: `#${i}`, event });
  });
  const pieces = [...present.pieces].flatMap(([id, after]): PieceChange[] => {
    const was = before.pieces.get(id) ?? null;
    const place = DESCRIBED.exec(after.revision)?.[1];
    return was === after ? [] : [{ before: was, after, described: place === undefined ? -1 : Number(place) }];
  });
  const keys = [...new Set([...before.expected.keys(), ...present.expected.keys()])];
  const textOf = (lines: ReadonlyMap<string, ExpectedLine>, key: string): string => {
    const line = lines.get(key);
    return line === undefined ? '' : expectedText(line);
  };
  const expected = keys
    .map((key) => ({ key, before: textOf(before.expected, key), after: textOf(present.expected, key) }))
    .filter((line) => line.before !== line.after);
  const accounts = Object.keys(NO_WOOD) as (keyof typeof NO_WOOD)[];
  const wood = [...present.wood].flatMap(([moulding, account]) =>
    accounts.flatMap((name) =>
      account[name] === 0 ? [] : [{ field: `${moulding}\n${name}`, by: account[name] }],
    ),
  );
  return { events: events.map((event) => JSON.stringify(event)), pieces, expected, wood };
}

/** The holder of a piece, as an index member wants it: empty for none. */
export function holderText(state: PieceState): string {
  return holderOf(state) ?? '';
}
