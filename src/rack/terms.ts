/**
 * The rack: the shop's memory of its wood. Every change is an event in a journal; the present is the sum of the journal.
 *
 * piece      one thing that lies on the rack, or did: a stick, an offcut, a stick that was delivered
 * state      free, reserved for a batch, begun (some of its rails are cut), used up, gone
 * expected   what a published plan buys, until it is received
 * wood       lengths added up by moulding: what came in = rails + waste + what is gone + what lies there
 *
 * Lengths are whole micrometres, money whole cents, as everywhere inside.
 */
import type { Cents, PieceEnds, Um } from '../terms.js';

export type Provenance =
  | { readonly kind: 'entered' }
  /** Bought for a batch. */
  | { readonly kind: 'delivery'; readonly batch: string; readonly offer: string }
  /** Left over from the piece `of`. */
  | { readonly kind: 'offcut'; readonly batch: string; readonly of: string };

/** A piece as it is described, whatever its state. */
export interface RackPiece {
  readonly id: string;
  readonly moulding: string;
  /** What a tape measures along the outside edge, the one that rails have their long points on. */
  readonly length: Um;
  readonly ends: PieceEnds;
  /** Spans no rail may touch, sorted and disjoint: [from, to] from the left end. */
  readonly flaws: readonly (readonly [Um, Um])[];
  /** What using it is worth; null: its length counts. */
  readonly value: Cents | null;
  readonly place: string | null;
  readonly from: Provenance;
}

export type PieceState =
  | { readonly kind: 'free' }
  | { readonly kind: 'reserved'; readonly batch: string }
  | {
      readonly kind: 'begun';
      readonly batch: string;
      /** Wood of it not yet cut into rails. */
      readonly left: Um;
      /** Ids of its rails that are cut and good, and of those that were spoiled. */
      readonly rails: readonly string[];
      readonly spoiled: readonly string[];
    }
  | { readonly kind: 'used'; readonly batch: string }
  | { readonly kind: 'gone' };

/** A piece as it stands. `revision`: journal entry in which its description was last changed. */
export interface Shelved {
  readonly piece: RackPiece;
  readonly state: PieceState;
  readonly revision: string;
}

/** Equal sticks that a plan buys, and how many of them have not come yet. */
export interface ExpectedLine {
  readonly batch: string;
  readonly offer: string;
  readonly moulding: string;
  readonly length: Um;
  readonly count: number;
}

/** Wood of one moulding. */
export interface WoodAccount {
  /** Entered, delivered, found, or measured longer than it was thought to be. */
  readonly came: Um;
  readonly rails: Um;
  /** Kerf, trims, spoiled rails, remainders not worth keeping. */
  readonly waste: Um;
  /** Removed, missing at a stocktaking, or measured shorter. */
  readonly gone: Um;
  /** What lies on the rack and on the bench. */
  readonly lying: Um;
}

export const NO_WOOD: WoodAccount = { came: 0, rails: 0, waste: 0, gone: 0, lying: 0 };

/** Wood of a piece that still lies there. */
export function lyingOf({ piece, state }: Pick<Shelved, 'piece' | 'state'>): Um {
  switch (state.kind) {
    case 'free':
    case 'reserved':
      return piece.length;
    case 'begun':
      return state.left;
    case 'used':
    case 'gone':
      return 0;
    default:
      return state satisfies never;
  }
}

/** The batch a piece is promised to; null: to none. */
export function holderOf(state: PieceState): string | null {
  return state.kind === 'reserved' || state.kind === 'begun' ? state.batch : null;
}

export function isLying(state: PieceState): boolean {
  return state.kind !== 'used' && state.kind !== 'gone';
}
