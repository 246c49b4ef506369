/**
 * Rails and pieces that may become a run: so many of each item, and so many pieces of each sort to cut them from. Which
 * rails lie on which piece is only known once it has been packed.
 */
import type { Pattern } from '../../solve/problem.js';
import type { Turns } from '../sawing.js';

/** Pieces that are alike: of one stock, with as much of each lane to cut from. */
export interface PieceSort {
  readonly stock: number;
  /** What rails may take of each lane. */
  readonly segments: readonly number[];
}

export interface Lot {
  /** By item. */
  readonly rails: Int32Array;
  /** By sort of piece. */
  readonly pieces: Int32Array;
}

/** A lot whose rails lie on its pieces. */
export interface PackedLot extends Lot {
  /** Their stock is a sort of piece. */
  readonly patterns: readonly Pattern[];
  readonly stops: number;
}

/** What is the same for all lots of a division. */
export interface LotTask {
  readonly turns: Turns;
  /** By item. */
  readonly weights: readonly number[];
  readonly sorts: readonly PieceSort[];
  /** Pieces that a run may hold. */
  readonly bench: number;
}

export function lengthOf({ segments }: PieceSort): number {
  return segments.reduce((sum, one) => sum + one, 0);
}

export function piecesIn({ pieces }: Lot): number {
  return pieces.reduce((sum, count) => sum + count, 0);
}

/** Length of the lot's pieces less what its rails take of them. */
export function spareIn({ weights, sorts }: LotTask, { rails, pieces }: Lot): number {
  let spare = 0;
  for (const [sort, count] of pieces.entries()) spare += count * lengthOf(sorts[sort]!);
  for (const [item, count] of rails.entries()) spare -= count * weights[item]!;
  return spare;
}

/** Stops that one run sets for these rails. */
export function stopsFor({ turnOf, stopOf, weight }: Turns, rails: Int32Array): number {
  let [sum, last] = [0, -1];
  for (let item = 0; item < rails.length; item++) {
    if (rails[item] === 0) continue;
    const stop = stopOf[turnOf[item]!]!;
    if (stop !== last) sum += weight[stop]!;
    last = stop;
  }
  return sum;
}

export function together(a: Lot, b: Lot): Lot {
  return {
    rails: a.rails.map((count, item) => count + b.rails[item]!),
    pieces: a.pieces.map((count, sort) => count + b.pieces[sort]!),
  };
}

export function without(a: Lot, b: Lot): Lot {
  return {
    rails: a.rails.map((count, item) => count - b.rails[item]!),
    pieces: a.pieces.map((count, sort) => count - b.pieces[sort]!),
  };
}

export function stopsIn(lots: readonly Pick<PackedLot, 'stops'>[]): number {
  return lots.reduce((sum, { stops }) => sum + stops, 0);
}
