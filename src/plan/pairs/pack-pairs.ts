/** Rails of a problem packed anew, as many pairs whole as possible, into the very pieces of a plan at hand. */
import { packPieces, piecesOf } from '../../solve/packer.js';
import type { Pattern, Problem } from '../../solve/problem.js';
import { shareOf, tiePairs, untied } from './pairs.js';

/** Share of the pairs that may be parted: the first, and how far it is halved or doubled. */
const LOOSE = 1 / 4;
const TIGHTEST = 1 / 32;
const LOOSEST = 1 / 2;
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
    const found = packPieces(tied, { pieces, seed, stopped });
    if (found !== null) best = found.map((pattern) => untied(pattern, items));
    if (found === null && (best !== null || loose < LOOSE)) return best;
    if (found !== null && (loose > LOOSE || loose === 0)) return best;
    loose = found === null ? 2 * loose : loose <= TIGHTEST ? 0 : loose / 2;
  }
  return best;
}
