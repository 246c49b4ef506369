/**
 * Packing, for whoever has a plan already and wants its pieces cut otherwise: the engine's second face. Problems with
 * unlike mitre angles are not served.
 */
import type { Cutting } from './columns/columns.js';
import { type Instance, prepare } from './instance/instance.js';
import type { Work } from './instance/watch.js';
import { Packer } from './packing/pack.js';
import { Refiller } from './packing/refill/refiller.js';
import type { Pattern, Problem } from './problem.js';
import { randomOf } from './random.js';

export { Filler, type Piece } from './packing/filler.js';
export type { Work };

/** What one packing may take: pieces filled times items looked at, some 10 million a second. */
const EFFORT = 200_000;
const MOST_ATTEMPTS = 16;
/** Pieces cut alike are filled at once, so that beyond some number for each item more of them are no more work. */
const PIECES_AN_ITEM = 4;

/** Pieces of each stock that `patterns` cut. */
export function piecesOf(problem: Problem, patterns: readonly Pattern[]): number[] {
  const pieces = problem.stocks.map(() => 0);
  for (const { stock, count } of patterns) pieces[stock]! += count;
  return pieces;
}

function outward(instance: Instance, pieces: readonly number[], plan: readonly Cutting[]): Pattern[] {
  const left = [...pieces];
  const patterns: Pattern[] = [];
  for (const { column, times } of plan) {
    let rest = times;
    for (const stock of instance.groups[column.group]!.members) {
      const count = Math.min(rest, left[stock]!);
      if (count <= 0) continue;
      left[stock]! -= count;
      rest -= count;
      const segments = column.parts.map((part) =>
        Array.from(part.items, (i, e) => ({ item: instance.order[i]!, count: part.counts[e]! })),
      );
      patterns.push({ stock, count, segments });
    }
  }
  return patterns;
}

export interface Packing {
  /** By stock. */
  readonly pieces: readonly number[];
  readonly seed: number;
  /** Absent: as many as the size of the problem allows. */
  readonly attempts?: number;
  /** How often an attempt that fails near its end goes on with a few pieces emptied again. */
  readonly repairs?: number;
  /** Rounds without gain after which an attempt is given up that fills sticks two by two again; such a one comes first. */
  readonly refilled?: number;
  readonly work?: Work;
  readonly stopped: () => boolean;
}

/** Patterns that cut every rail of `problem` from just these pieces, each of them used; null where none were found. */
export function packPieces(
  problem: Problem,
  { pieces, seed, stopped, ...effort }: Packing,
): Pattern[] | null {
  const instance = prepare(problem);
  const wanted = Float64Array.from(instance.groups, ({ members }) =>
    members.reduce((sum, member) => sum + pieces[member]!, 0),
  );
  const bins = wanted.reduce((sum, n) => sum + n, 0);
  const work = Math.min(bins, PIECES_AN_ITEM * instance.n) * instance.n;
  const attempts = effort.attempts ?? Math.max(1, Math.min(MOST_ATTEMPTS, Math.floor(EFFORT / work)));
  const patternsOf = (plan: readonly Cutting[] | null): Pattern[] | null => {
    if (plan === null) return null;
    const patterns = outward(instance, pieces, plan);
    // A piece left uncut would change what is bought.
    const cut = patterns.filter(({ segments }) => segments.some((entries) => entries.length > 0));
    return piecesOf(problem, cut).every((count, stock) => count === pieces[stock]) ? patterns : null;
  };
  const random = randomOf(seed);
  let found: Pattern[] | null = null;
  if (effort.refilled !== undefined) {
    const spend = (units: number): void => effort.work?.spend(units);
    const refiller = new Refiller(instance, random, { spend, over: stopped });
    if (refiller.serves(bins)) found = patternsOf(refiller.attempt(wanted, effort.refilled));
  }
  const packer = new Packer(instance, random, effort.work);
  for (let k = 0; found === null && k < attempts && !stopped(); k++)
    found = patternsOf(packer.attempt(wanted, effort.repairs));
  return found;
}
