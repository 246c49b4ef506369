/**
 * Rails placed anew into the very pieces of a plan, so that every goal keeps its value: a few pieces at a time, those
 * that share split pairs first, are emptied and filled again as long as that betters the plan (large neighbourhood
 * search; Shaw 1998). Effort is counted.
 */

import { Filler, type Piece } from '../../solve/packer.js';
import type { Problem } from '../../solve/problem.js';

/** A piece and what it takes to cut it: different items on it, and those of which a rail is without its partner. */
interface CutPiece {
  readonly piece: Piece;
  readonly visits: number;
  readonly odd: readonly number[];
  readonly key: string;
}

/** Pieces emptied at once, least and most. */
const RUINED = [3, 9] as const;

export interface Repacking {
  readonly problem: Problem;
  readonly pairable: readonly boolean[];
  readonly seed: number;
  /** Attempts at all pieces together, and at a few of them. */
  readonly whole: number;
  readonly rounds: number;
  readonly stopped: () => boolean;
}

class Repack {
  readonly #to: Repacking;
  readonly #filler: Filler;
  #cuts: CutPiece[];
  readonly #layouts = new Map<string, number>();

  constructor(given: readonly Piece[], to: Repacking) {
    this.#to = to;
    this.#filler = new Filler(to.problem, to.pairable, to.seed);
    this.#cuts = given.map((piece) => this.#cut(piece));
  }

  #cut(piece: Piece): CutPiece {
    const { stock, lanes } = piece;
    const counts = new Map<number, number>();
    for (const { item, count } of lanes.flat()) counts.set(item, (counts.get(item) ?? 0) + count);
    const odd = [...counts].flatMap(([item, count]) =>
      this.#to.pairable[item] === true && count % 2 === 1 ? [item] : [],
    );
    const key = `${stock} ${lanes.map((lane) => lane.map(({ item, count }) => `${item}x${count}`).join(' ')).join('|')}`;
    return { piece, visits: counts.size, odd, key };
  }

  #count(cuts: readonly CutPiece[], by: number): number {
    let more = 0;
    for (const { key } of cuts) {
      const count = this.#layouts.get(key) ?? 0;
      more += Number(count + by > 0) - Number(count > 0);
      if (count + by === 0) this.#layouts.delete(key);
      else this.#layouts.set(key, count + by);
    }
    return more;
  }

  /** Cuts `after` instead of `before`, unless that takes more visits, then layouts, then split pairs. */
  #change(before: readonly CutPiece[], after: readonly CutPiece[]): boolean {
    const visits = sumOf(after, (cut) => cut.visits) - sumOf(before, (cut) => cut.visits);
    if (visits > 0) return false;
    const layouts = this.#count(before, -1) + this.#count(after, 1);
    const apart = sumOf(after, (cut) => cut.odd.length) - sumOf(before, (cut) => cut.odd.length);
    if (visits < 0 || layouts < 0 || (layouts === 0 && apart <= 0)) return true;
    this.#count(after, -1);
    this.#count(before, 1);
    return false;
  }

  /** Pieces to empty: one with a split pair, others with rails of the same lengths, and any. */
  #choose(): readonly number[] | null {
    const { random } = this.#filler;
    const cuts = this.#cuts;
    const split = cuts.flatMap(({ odd }, at) => (odd.length > 0 ? [at] : []));
    const first = split[Math.floor(random() * split.length)];
    if (first === undefined) return null;
    const wanted = Math.min(cuts.length, RUINED[0] + Math.floor(random() * (RUINED[1] - RUINED[0] + 1)));
    const chosen = new Set([first]);
    for (const item of cuts[first]!.odd) {
      const others = split.filter((at) => !chosen.has(at) && cuts[at]!.odd.includes(item));
      const other = others[Math.floor(random() * others.length)];
      if (other !== undefined && chosen.size < wanted) chosen.add(other);
    }
    for (let tries = 4 * wanted; chosen.size < wanted && tries > 0; tries--) {
      chosen.add(Math.floor(random() * cuts.length));
    }
    return [...chosen];
  }

  run(): readonly Piece[] {
    const { whole, rounds, stopped } = this.#to;
    const given = this.#cuts;
    this.#count(given, 1);
    for (let k = 0; k < whole && !stopped(); k++) {
      const after = this.#filler.fill(given.map(({ piece }) => piece))?.map((piece) => this.#cut(piece));
      if (after !== undefined && this.#change(this.#cuts, after)) this.#cuts = after;
    }
    for (let round = 0; round < rounds && !stopped(); round++) {
      const chosen = this.#choose();
      if (chosen === null) break;
      const before = chosen.map((at) => this.#cuts[at]!);
      const after = this.#filler.fill(before.map(({ piece }) => piece))?.map((piece) => this.#cut(piece));
      if (after === undefined || !this.#change(before, after)) continue;
      chosen.forEach((at, k) => {
        this.#cuts[at] = after[k]!;
      });
    }
    return this.#cuts.map(({ piece }) => piece);
  }
}

function sumOf(cuts: readonly CutPiece[], of: (cut: CutPiece) => number): number {
  return cuts.reduce((sum, cut) => sum + of(cut), 0);
}

/** Pieces cut with fewer visits, then layouts, then split pairs; as given where nothing better was found. */
export function repack(given: readonly Piece[], to: Repacking): readonly Piece[] {
  return new Repack(given, to).run();
}
