/**
 * Fills the bins of some pieces anew with the rails they hold, as many pairs whole as possible: bin after bin with pairs,
 * and with single rails where pairs alone would waste too much; the last few bins by exact search.
 */

import { type Instance, prepare } from '../instance/instance.js';
import type { PatternEntry, Problem } from '../problem.js';
import { randomOf } from '../random.js';
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

/** Tries at one bin with pairs only, and as many with single rails. */
const TRIES = 6;
/** Share of a bin's part of the slack that it may waste, least and most, drawn anew for each attempt. */
const THRIFT = [0.3, 1] as const;
/** Bins left from which on the exact search takes over, and what it may take. */
const LAST_BINS = 4;
const CLOSE_NODES = 1_000;
/** Units up to which all triples are looked at. */
const FEW = 160;

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
  readonly #rest: Int32Array;
  readonly #taken: Int32Array;
  readonly #best: Int32Array;
  readonly #pool: Int32Array;
  #poolSize = 0;
  /** Units there are any rails for at the start of a filling. */
  readonly #live: Int32Array;
  #liveSize = 0;
  #high = -1;
  #low = -1;
  /** Single rails of any item may be taken, not only those that are odd. */
  #free = false;
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
    this.#rest = new Int32Array(n);
    this.#taken = new Int32Array(n);
    this.#best = new Int32Array(n);
    this.#pool = new Int32Array(this.#units.n);
    this.#live = new Int32Array(this.#units.n);
    this.#random = randomOf(seed);
  }

  get random(): () => number {
    return this.#random;
  }

  /** The same pieces with the same rails, placed anew; null where the attempt failed or left a piece empty. */
  fill(pieces: readonly Piece[]): readonly Piece[] | null {
    const { weight } = this.#units;
    const rest = this.#rest.fill(0);
    const bins: Bin[] = [];
    pieces.forEach(({ stock, lanes }, piece) => {
      for (const { item, count } of lanes.flat()) rest[item]! += count;
      for (const [lane, capacity] of this.#capacities[stock]!.entries()) bins.push({ piece, lane, capacity });
    });
    bins.sort((a, b) => a.capacity - b.capacity);
    let [missing, rails] = [0, 0];
    this.#liveSize = 0;
    for (let u = 0; u < weight.length; u++) {
      if (rest[this.#item[u]!]! < this.#rails[u]!) continue;
      this.#live[this.#liveSize++] = u;
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
      slack -= this.#fillBin(bin.capacity, allowed, (2 * missing) / rails);
      if (slack < 0) return null;
      const entries: PatternEntry[] = [];
      for (let k = 0; k < this.#liveSize; k++) {
        const u = this.#live[k]!;
        const i = this.#item[u]!;
        const count = this.#best[i]!;
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
    const live = this.#live
      .subarray(0, this.#liveSize)
      .filter((u) => this.#rest[this.#item[u]!]! >= this.#rails[u]!);
    const few = {
      ...this.#units,
      n: live.length,
      weight: Float64Array.from(live, (u) => this.#units.weight[u]!),
    };
    for (const pairs of [true, false]) {
      const demand = Int32Array.from(live, (u) => {
        const i = this.#item[u]!;
        const whole = pairs && this.#pairable[i] === 1 ? this.#rest[i]! >> 1 : 0;
        return this.#rails[u] === 2 ? whole : this.#rest[i]! - 2 * whole;
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

  /** Rails of its item that unit u can be taken from, as it stands. */
  #has(u: number): boolean {
    const i = this.#item[u]!;
    const left = this.#rest[i]! - this.#taken[i]!;
    if (this.#rails[u] === 2) return left >= 2;
    return this.#free || this.#pairable[i] === 0 ? left >= 1 : (left & 1) === 1;
  }

  /** Fills one bin (rails of each item in `best`); answers what it wastes. */
  #fillBin(capacity: number, allowed: number, mean: number): number {
    const { weight } = this.#units;
    let least = Infinity;
    for (let t = 0; t < 2 * TRIES && least > allowed; t++) {
      this.#taken.fill(0);
      let room = capacity;
      this.#free = false;
      for (let lead = t % 2 === 0; ; lead = false) {
        if (!lead && room <= 3.3 * mean) break;
        const u = lead ? this.#leader(room) : this.#draw(room);
        if (u < 0) break;
        this.#taken[this.#item[u]!]! += this.#rails[u]!;
        room -= weight[u]!;
      }
      this.#free = t >= TRIES;
      room -= this.#complete(room, allowed);
      if (room < least) {
        least = room;
        this.#best.set(this.#taken);
      }
    }
    return least;
  }

  #leader(room: number): number {
    const { weight } = this.#units;
    for (let k = 0; k < this.#liveSize; k++) {
      const u = this.#live[k]!;
      if (weight[u]! <= room && this.#has(u)) return u;
    }
    return -1;
  }

  /** A unit that fits, drawn by how many rails are left of its item. */
  #draw(room: number): number {
    const { weight } = this.#units;
    let total = 0;
    for (let k = 0; k < this.#liveSize; k++) {
      const u = this.#live[k]!;
      if (weight[u]! <= room && this.#has(u)) total += this.#left(u);
    }
    let at = Math.floor(this.#random() * total);
    for (let k = 0; k < this.#liveSize; k++) {
      const u = this.#live[k]!;
      if (weight[u]! > room || !this.#has(u)) continue;
      at -= this.#left(u);
      if (at < 0) return u;
    }
    return -1;
  }

  #left(u: number): number {
    const i = this.#item[u]!;
    return this.#rest[i]! - this.#taken[i]!;
  }

  /** Takes the one, two or three units that fill the room best; answers their length. */
  #complete(room: number, allowed: number): number {
    const { weight } = this.#units;
    const [pool, taken] = [this.#pool, this.#taken];
    let size = 0;
    for (let k = 0; k < this.#liveSize; k++) {
      const u = this.#live[k]!;
      if (weight[u]! <= room && this.#has(u)) pool[size++] = u;
    }
    this.#poolSize = size;
    if (size === 0) return 0;
    let best = weight[pool[0]!]!;
    let [a, b, c] = [pool[0]!, -1, -1];
    const pair = this.#bestPair(0, room, best);
    if (pair > best) [best, a, b] = [pair, this.#high, this.#low];
    const looks = size <= FEW ? size : FEW / 4;
    for (let look = 0; look < looks && room - best > allowed; look++) {
      const place = size <= FEW ? look : Math.floor(this.#random() * size);
      const u = pool[place]!;
      const i = this.#item[u]!;
      taken[i]! += this.#rails[u]!;
      const sum = weight[u]! + this.#bestPair(place, room - weight[u]!, best - weight[u]!);
      taken[i]! -= this.#rails[u]!;
      if (sum > best) [best, a, b, c] = [sum, u, this.#high, this.#low];
    }
    for (const u of [a, b, c]) if (u >= 0) taken[this.#item[u]!]! += this.#rails[u]!;
    return best;
  }

  /**
   * Greatest weight of two units from place `from` of the pool on that fit and weigh more than `floor`; −Infinity
   * when there are none. The pool stands heaviest first, so the partner's place only moves towards the front.
   */
  #bestPair(from: number, room: number, floor: number): number {
    const { weight } = this.#units;
    const [pool, size] = [this.#pool, this.#poolSize];
    let best = floor;
    let found = false;
    for (let high = from, partner = size; high < size && high <= partner; high++) {
      const u = pool[high]!;
      const a = weight[u]!;
      while (partner > high && a + weight[pool[partner - 1]!]! <= room) partner--;
      if (!this.#has(u)) continue;
      for (let low = partner; low < size; low++) {
        const v = pool[low]!;
        const sum = a + weight[v]!;
        if (sum <= best) break;
        const same = this.#item[u] === this.#item[v];
        if (!this.#has(v) || (same && this.#left(u) < this.#rails[u]! + this.#rails[v]!)) continue;
        [best, found, this.#high, this.#low] = [sum, true, u, v];
        break;
      }
    }
    return found ? best : -Infinity;
  }
}
