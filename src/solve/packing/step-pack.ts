import type { Cutting, Fill } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { BIN_NODES_A_UNIT, PACKED_A_UNIT, type Work } from '../instance/watch.js';
import { closePack, type Filling } from './close-pack.js';
import { assemble, binsOf } from './pack.js';
import type { RailCounts } from './rail-counts.js';

/** Tries at a bin; from the second half on any number of rails will do. */
const TRIES = 16;
/** Where none fills it, so many more that they look at so many lengths in all. */
const MOST_TRIES = 600;
const LOOKED = 20_000;
/** Rails of which the one nearest to the mean length still needed is taken. */
const LOOKS = 3;
/** Looks at a rail drawn. */
const DRAWS = 12;
/** Share of a step beyond the least waste that still counts as none. */
const EXACT = 0.3;
/** Share of its part of the slack that a piece may waste without being thought worse. */
const THRIFT = 0.6;
const LAST_BINS = 4;
const CLOSE_NODES = 20_000;

/**
 * Packs into given numbers of pieces where rails stand on a stop step: each piece is given as many rails as waste least,
 * drawn so that long and short rails are used up alike, and the last two are the pair that fills it. What that saves is
 * left to the last pieces. A failed attempt proves nothing.
 */
export class StepPacker {
  readonly #rest: Int32Array;
  /** One entry a rail left, in no order. */
  #rails = new Int32Array(0);
  #size = 0;
  readonly #live: Int32Array;
  #liveSize = 0;
  /** Lengths of which more are left than of the mean one, heaviest first. */
  readonly #common: Int32Array;
  #commonSize = 0;
  #mean = 0;
  /** Rails of each item when `#rails` was filled. */
  readonly #gathered: Int32Array;
  /** Items of the bin in hand and of the best one. */
  readonly #taken: number[] = [];
  #best: number[] = [];
  #fillings: Filling[] = [];

  constructor(
    private readonly instance: Instance,
    readonly counts: RailCounts,
    private readonly random: () => number,
    private readonly work: Work,
  ) {
    this.#rest = new Int32Array(instance.n);
    this.#live = new Int32Array(instance.n);
    this.#common = new Int32Array(instance.n);
    this.#gathered = new Int32Array(instance.n);
  }

  #begin(): void {
    const { n, demand } = this.instance;
    this.#rest.set(demand);
    this.#liveSize = n;
    for (let i = 0; i < n; i++) this.#live[i] = i;
    this.#gather(demand.reduce((sum, d) => sum + d, 0));
  }

  /** One entry for each of the `total` rails left. */
  #gather(total: number): void {
    const { n } = this.instance;
    if (this.#rails.length < total) this.#rails = new Int32Array(total);
    this.#size = 0;
    for (let i = 0; i < n; i++) {
      this.#gathered[i] = this.#rest[i]!;
      for (let k = 0; k < this.#rest[i]!; k++) this.#rails[this.#size++] = i;
    }
  }

  /** Lengths left, and those of which more are left than of most; to be called when `rest` has become less. */
  #look(total: number): void {
    const rest = this.#rest;
    let [size, common] = [0, 0];
    for (let k = 0; k < this.#liveSize; k++) {
      const i = this.#live[k]!;
      if (rest[i]! > 0) this.#live[size++] = i;
    }
    this.#liveSize = size;
    this.#mean = total / Math.max(1, size);
    for (let k = 0; k < size; k++)
      if (rest[this.#live[k]!]! >= this.#mean) this.#common[common++] = this.#live[k]!;
    this.#commonSize = common;
    if (2 * total < this.#size) this.#gather(total);
  }

  /** A rail left, not among those taken, drawn among all or among common lengths; −1 where luck fails. */
  #draw(common: boolean): number {
    const [rest, rails, gathered, random] = [this.#rest, this.#rails, this.#gathered, this.random];
    for (let look = 0; look < DRAWS; look++) {
      const i = rails[Math.floor(random() * this.#size)]!;
      const left = rest[i]! - this.#countTaken(i);
      if (left <= 0 || (common && rest[i]! < this.#mean)) continue;
      if (left === gathered[i] || random() * gathered[i]! < left) return i;
    }
    return -1;
  }

  #countTaken(i: number): number {
    let count = 0;
    for (const t of this.#taken) if (t === i) count++;
    return count;
  }

  /** How often the bin in hand can be cut. */
  #often(): number {
    const rest = this.#rest;
    let least = Infinity;
    for (const i of this.#taken) least = Math.min(least, Math.floor(rest[i]! / this.#countTaken(i)));
    return least;
  }

  /** Takes the pair that fills the room best; what is left then, −1 where there is none. */
  #pair(room: number, allowed: number, common: boolean): number {
    const { weight } = this.instance;
    const [rest, taken] = [this.#rest, this.#taken];
    const [live, size] = common ? [this.#common, this.#commonSize] : [this.#live, this.#liveSize];
    let [best, a, b, most] = [-1, -1, -1, 0];
    for (let high = 0, partner = size - 1; high < size && high <= partner; high++) {
      const i = live[high]!;
      const w = weight[i]!;
      if (2 * w < best) break;
      while (partner > high && w + weight[live[partner - 1]!]! <= room) partner--;
      if (w + weight[live[partner]!]! > room) continue;
      for (let low = partner; low < size; low++) {
        const j = live[low]!;
        const sum = w + weight[j]!;
        if (sum < best && room - sum > allowed) break;
        const [left, other] = [rest[i]! - this.#countTaken(i), rest[j]! - this.#countTaken(j)];
        const pairs = i === j ? left >> 1 : Math.min(left, other);
        if (pairs < 1) continue;
        // Of those that fill it, the pair of which most are left: rare lengths are kept for the last pieces.
        const fills = room - sum <= allowed;
        if (fills && room - best <= allowed ? pairs > most : sum > best)
          [best, a, b, most] = [sum, i, j, pairs];
        break;
      }
    }
    if (best < 0) return -1;
    taken.push(a, b);
    return room - best;
  }

  /** Fills one bin with so many rails; answers what it wastes, Infinity where it failed. */
  #fill(capacity: number, count: number, allowed: number, common: boolean): number {
    const { weight } = this.instance;
    this.#taken.length = 0;
    let room = capacity;
    for (let k = count; k > 2; k--) {
      const wanted = room / k;
      let chosen = -1;
      for (let look = 0; look < LOOKS; look++) {
        const i = this.#draw(common);
        if (i >= 0 && (chosen < 0 || Math.abs(weight[i]! - wanted) < Math.abs(weight[chosen]! - wanted)))
          chosen = i;
      }
      if (chosen < 0 || weight[chosen]! > room) return Infinity;
      this.#taken.push(chosen);
      room -= weight[chosen]!;
    }
    const left = count === 1 ? Infinity : this.#pair(room, allowed, common);
    return left < 0 ? Infinity : left;
  }

  /** What the last attempt filled, where it failed: patterns that waste least. */
  get filled(): readonly Filling[] {
    return this.#fillings;
  }

  attempt(pieces: Float64Array): Cutting[] | null {
    const { instance, counts, random } = this;
    const { weight, n } = instance;
    this.#begin();
    const rest = this.#rest;
    const types = binsOf(instance, pieces);
    let [count, missing, bins, slack] = [0, 0, 0, 0];
    for (let i = 0; i < n; i++) {
      count += rest[i]!;
      missing += rest[i]! * weight[i]!;
    }
    for (const { type, left } of types) {
      bins += left;
      slack += left * type.capacity;
    }
    slack -= missing;
    this.#look(count);
    this.#fillings = [];
    const fillings = this.#fillings;
    for (const entry of types) {
      const { capacity } = entry.type;
      while (entry.left > 0 && count > 0) {
        if (bins <= LAST_BINS) {
          const { fillings: closed, nodes } = closePack(instance, rest, types, slack, CLOSE_NODES);
          this.work.spend(nodes / BIN_NODES_A_UNIT);
          return closed ? assemble(instance, [...fillings, ...closed]) : null;
        }
        const mean = (count * capacity) / (missing + slack);
        const wastes = counts.wastes(capacity);
        let [waste, often] = [Infinity, 0];
        let exact = false;
        const tries = Math.max(TRIES, Math.min(MOST_TRIES, Math.ceil(LOOKED / this.#liveSize)));
        for (let t = 0; t < (exact ? TRIES : tries); t++) {
          const m = counts.draw(capacity, mean, random);
          const allowed = Math.max(wastes[m]! + EXACT * counts.unit, (THRIFT * slack) / bins);
          // Every other try among the lengths of which most are left: rare ones are kept for the last pieces.
          const left = this.#fill(capacity, m, allowed, t % 2 === 0);
          if (left > allowed ? exact || left >= waste : false) continue;
          const again = this.#often();
          if (left <= allowed && exact && again <= often) continue;
          [waste, often] = [left, again];
          this.#best = [...this.#taken];
          exact ||= left <= allowed;
        }
        const times = exact ? Math.max(1, Math.min(often >> 1, entry.left, bins - LAST_BINS)) : 1;
        this.work.spend(n / PACKED_A_UNIT);
        slack -= waste * times;
        if (slack < 0) return null;
        const held = new Map<number, number>();
        for (const i of this.#best) held.set(i, (held.get(i) ?? 0) + 1);
        for (const [i, k] of held) {
          rest[i]! -= k * times;
          count -= k * times;
          missing -= k * times * weight[i]!;
        }
        this.#look(count);
        fillings.push({ type: entry.type, fill: fillOfMap(held), times });
        entry.left -= times;
        bins -= times;
      }
    }
    return count === 0 ? assemble(instance, fillings) : null;
  }
}

function fillOfMap(held: ReadonlyMap<number, number>): Fill {
  const items = Int32Array.from(held.keys()).sort();
  return { items, counts: items.map((i) => held.get(i)!) };
}
