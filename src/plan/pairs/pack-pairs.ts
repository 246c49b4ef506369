/** Rails of a problem packed anew, as many pairs whole as possible, into the very pieces of a plan at hand. */
import type { Cutting } from '../../solve/columns/columns.js';
import { type Instance, prepare } from '../../solve/instance/instance.js';
import { randomOf } from '../../solve/instance/random.js';
import { Packer } from '../../solve/packing/pack.js';
import type { Pattern, Problem } from '../../solve/problem.js';
import { shareOf, tiePairs, untied } from './pairs.js';

/** Share of the pairs that may be parted: the first, and how far it is halved or doubled. */
const LOOSE = 1 / 4;
const TIGHTEST = 1 / 32;
const LOOSEST = 1 / 2;
/** What one packing may take: pieces filled times items looked at, some 10 million a second. */
const EFFORT = 200_000;
const MOST_ATTEMPTS = 16;
/** Pieces cut alike are filled at once, so that beyond some number for each item more of them are no more work. */
const PIECES_AN_ITEM = 4;

/** Pieces of each stock that `patterns` cut. */
function piecesOf(problem: Problem, patterns: readonly Pattern[]): number[] {
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

/** Patterns that cut every rail of `problem` from just these pieces, each of them used; null where none were found. */
function pack(
  problem: Problem,
  pieces: readonly number[],
  seed: number,
  stopped: () => boolean,
): Pattern[] | null {
  const instance = prepare(problem);
  const wanted = Float64Array.from(instance.groups, ({ members }) =>
    members.reduce((sum, member) => sum + pieces[member]!, 0),
  );
  const bins = wanted.reduce((sum, n) => sum + n, 0);
  const work = Math.min(bins, PIECES_AN_ITEM * instance.n) * instance.n;
  const attempts = Math.max(1, Math.min(MOST_ATTEMPTS, Math.floor(EFFORT / work)));
  const packer = new Packer(instance, randomOf(seed));
  for (let k = 0; k < attempts && !stopped(); k++) {
    const plan = packer.attempt(wanted);
    if (plan === null) continue;
    const patterns = outward(instance, pieces, plan);
    // A piece left uncut would change what is bought.
    if (piecesOf(problem, patterns).every((count, stock) => count === pieces[stock])) return patterns;
  }
  return null;
}

/**
 * Patterns of `problem` in the pieces that `known` cuts, with as large a share of the pairs whole as was found: `pairs`
 * of each item. null where none was. Problems with unlike mitre angles are not served.
 */
export function packPairs(
  problem: Problem,
  known: readonly Pattern[],
  pairs: readonly number[],
  seed: number,
  stopped: () => boolean,
): readonly Pattern[] | null {
  if (problem.kinds !== null) return null;
  const pieces = piecesOf(problem, known);
  let best: readonly Pattern[] | null = null;
  for (let loose = LOOSE; loose <= LOOSEST; ) {
    const parted = shareOf(pairs, loose);
    const { problem: tied, tied: items } = tiePairs(
      problem,
      pairs.map((count, i) => count - parted[i]!),
    );
    const found = pack(tied, pieces, seed, stopped);
    if (found !== null) best = found.map((pattern) => untied(pattern, items));
    if (found === null && (best !== null || loose < LOOSE)) return best;
    if (found !== null && (loose > LOOSE || loose === 0)) return best;
    loose = found === null ? 2 * loose : loose <= TIGHTEST ? 0 : loose / 2;
  }
  return best;
}
