/** Packs a lot: which rails lie on which piece. */

import type { Work } from '../../solve/packer.js';
import { packPieces } from '../../solve/packer.js';
import type { Pattern, Problem } from '../../solve/problem.js';
import { type Lot, type LotTask, lengthOf } from './lot.js';

export interface LotPacking {
  readonly seed: number;
  readonly attempts: number;
  readonly repairs: number;
  /** As `Packing.refilled`. */
  readonly refilled?: number;
  readonly work: Work;
  readonly stopped: () => boolean;
  readonly thorough?: Thorough;
}

/** All of a problem, whose pieces hardly more than hold it, by more than packing; null where nothing was found. */
export type Thorough = (problem: Problem) => readonly Pattern[] | null;

/** Patterns, of sorts, that cut the lot's rails from just its pieces; null where none were found. */
export function packLot(
  { weights, sorts }: LotTask,
  { rails, pieces }: Lot,
  packing: LotPacking,
): readonly Pattern[] | null {
  const items = [...rails.keys()].filter((item) => rails[item]! > 0);
  const used = [...pieces.keys()].filter((sort) => pieces[sort]! > 0);
  const problem: Problem = {
    items: items.map((item) => ({ weight: weights[item]!, demand: rails[item]!, kind: 0 })),
    stocks: used.map((sort) => ({
      segments: sorts[sort]!.segments,
      costs: [Math.round(lengthOf(sorts[sort]!))],
      supply: pieces[sort]!,
      purchase: null,
    })),
    kinds: null,
    goals: 1,
  };
  const found =
    packPieces(problem, { ...packing, pieces: used.map((sort) => pieces[sort]!) }) ??
    packing.thorough?.(problem) ??
    null;
  return found === null
    ? null
    : found.map(({ stock, count, segments }) => ({
        stock: used[stock]!,
        count,
        segments: segments.map((entries) =>
          entries.map((entry) => ({ ...entry, item: items[entry.item]! })).sort((a, b) => a.item - b.item),
        ),
      }));
}
