/**
 * Fills the bins of some pieces anew with the rails they hold, as many pairs whole as possible: bin after bin with pairs,
 * and with single rails where pairs alone would waste too much; the last few bins by exact search.
 */

import { type Instance, prepare } from '../instance/instance.js';
import type { PatternEntry, Problem } from '../problem.js';
import { randomOf } from '../random.js';
import { BinFiller, type Start } from './bin.js';
import { type BinType, closePack } from './close-pack.js';

/** One piece with its rails, segment by segment. */
export interface Piece {
  readonly stock: number;
  readonly lanes: readonly (readonly PatternEntry[])[];
}

interface Bin {
  readonly piece: number;
  readonly lane: number;
  readonly capacity: number;
}

/** With pairs only, as far as there are; then with single rails too. */
const STARTS: readonly Start[] = Array.from({ length: 12 }, (_, k) => ({
  first: k % 2 === 0 ? 'largest' : 'any',
  parted: k >= 6,
}));
/** Share of a bin's part of the slack that it may waste, least and most, drawn anew for each attempt. */
const THRIFT = [0.3, 1] as const;
/** Bins left from which on the exact search takes over, and what it may take. */
const LAST_BINS = 4;
const CLOSE_NODES = 1_000;

function sorted(entries: PatternEntry[]): readonly PatternEntry[] {
  return entries.sort((a, b) => a.item - b.item);
}

/** Fills the bins of some pieces anew. Problems with unlike mitre angles are not served. */
export class Filler {
  /** Items and pairs of them as items of their own, the heaviest first. */
  readonly #units: Instance;
  readonly #item: Int32Array;
  readonly #rails: Int32Array;
  readonly #divisor: number;
  readonly #pairable: Uint8Array;
  readonly #bin: BinFiller;
  readonly #random: () => number;
  readonly #capacities: readonly (readonly number[])[];

  /** `pairable`: items that are cut in pairs which may be parted. */
  constructor(problem: Problem, pairable: readonly boolean[], seed: number) {
    const n = problem.items.length;
    const pairs = problem.items.flatMap((item, i) =>
      pairable[i] === true ? [{ ...item, weight: 2 * item.weight, of: i }] : [],
    );
    const items = [...problem.items, ...pairs.map(({ weight, demand, kind }) => ({ weight, demand, kind }))];
    this.#units = prepare({ ...problem, items });
    const { order, weight } = this.#units;
    this.#item = Int32Array.from(order, (u) => (u < n ? u : pairs[u - n]!.of));
    this.#rails = Int32Array.from(order, (u) => (u < n ? 1 : 2));
    this.#divisor = items[order[0]!]!.weight / weight[0]!;
    this.#capacities = problem.stocks.map(({ segments }) =>
      segments.map((c) => Math.floor(c / this.#divisor)),
    );
    this.#pairable = Uint8Array.from(pairable, Number);
    this.#random = randomOf(seed);
    const half = Uint8Array.from(order, (u) => (u < n ? this.#pairable[u]! : 0));
    const units = { weight, item: this.#item, rails: this.#rails, half };
    this.#bin = new BinFiller(units, n, this.#random);
  }

  get random(): () => number {
    return this.#random;
  }

  /** The same pieces with the same rails, placed anew; null where the attempt failed or left a piece empty. */
  fill(pieces: readonly Piece[]): readonly Piece[] | null {
    const { weight } = this.#units;
    const { rest, best } = this.#bin;
    rest.fill(0);
    const bins: Bin[] = [];
    pieces.forEach(({ stock, lanes }, piece) => {
      for (const { item, count } of lanes.flat()) rest[item]! += count;
      for (const [lane, capacity] of this.#capacities[stock]!.entries()) bins.push({ piece, lane, capacity });
    });
    this.#bin.begin();
    bins.sort((a, b) => a.capacity - b.capacity);
    let [missing, rails] = [0, 0];
    for (let u = 0; u < weight.length; u++) {
      if (this.#rails[u] === 2) continue;
      missing += weight[u]! * rest[this.#item[u]!]!;
      rails += rest[this.#item[u]!]!;
    }
    let slack = bins.reduce((sum, { capacity }) => sum + capacity, 0) - missing;
    const thrift = THRIFT[0] + (THRIFT[1] - THRIFT[0]) * this.#random();
    const filled = pieces.map(({ stock }) => ({
      stock,
      lanes: this.#capacities[stock]!.map((): readonly PatternEntry[] => []),
    }));
    for (const [at, bin] of bins.entries()) {
      if (rails === 0) break;
      const left = bins.length - at;
      if (left <= LAST_BINS) {
        if (!this.#close(bins.slice(at), slack, filled)) return null;
        break;
      }
      const allowed = (thrift * slack) / left;
      this.#bin.look();
      slack -= this.#bin.fill(bin.capacity, allowed, (2 * missing) / rails, STARTS);
      if (slack < 0) return null;
      const entries: PatternEntry[] = [];
      for (let u = 0; u < weight.length; u++) {
        const i = this.#item[u]!;
        const count = best[i]!;
        if (this.#rails[u] === 2 || count === 0) continue;
        entries.push({ item: i, count });
        rest[i]! -= count;
        rails -= count;
        missing -= count * weight[u]!;
      }
      filled[bin.piece]!.lanes[bin.lane] = sorted(entries);
    }
    return filled.every(({ lanes }) => lanes.some((lane) => lane.length > 0)) ? filled : null;
  }

  /** Fills the last bins by exact search, with pairs if it can. */
  #close(
    bins: readonly Bin[],
    slack: number,
    filled: readonly { lanes: (readonly PatternEntry[])[] }[],
  ): boolean {
    const types = bins.map(({ capacity }, b) => ({
      type: { group: b, segment: 0, capacity } satisfies BinType,
      left: 1,
    }));
    this.#bin.look();
    const { live, rest } = this.#bin;
    const few = {
      ...this.#units,
      n: live.length,
      weight: Float64Array.from(live, (u) => this.#units.weight[u]!),
    };
    for (const pairs of [true, false]) {
      const demand = Int32Array.from(live, (u) => {
        const i = this.#item[u]!;
        const whole = pairs && this.#pairable[i] === 1 ? rest[i]! >> 1 : 0;
        return this.#rails[u] === 2 ? whole : rest[i]! - 2 * whole;
      });
      const { fillings } = closePack(few, demand, types, slack, CLOSE_NODES);
      if (fillings === null) continue;
      for (const { type, fill } of fillings) {
        const counts = new Map<number, number>();
        fill.items.forEach((at, e) => {
          const u = live[at]!;
          const i = this.#item[u]!;
          counts.set(i, (counts.get(i) ?? 0) + this.#rails[u]! * fill.counts[e]!);
        });
        const { piece, lane } = bins[type.group]!;
        filled[piece]!.lanes[lane] = sorted([...counts].map(([item, count]) => ({ item, count })));
      }
      return true;
    }
    return false;
  }
}
