import type { Cutting } from '../../columns/columns.js';
import type { Instance } from '../../instance/instance.js';
import type { EndingWork } from '../../instance/watch.js';
import type { BinType, Filling } from '../close-pack.js';
import { assemble, binsOf } from '../pack.js';
import { RailPool } from './pool.js';
import { MOST_TOGETHER, Subset } from './subset.js';

/** Rails looked at together when a bin is first filled, and of each bin when two are filled again. */
const TOGETHER = 18;
const FREED = 6;
/** Rails not in any bin that two bins are filled again with, at least. */
const OTHERS = 6;
/** Of so many bins drawn that which wastes most is filled again. */
const DRAWN = 6;
/** Bins between two looks at which lengths are rare. */
const LOOK = 32;
/** Bins that are filled last, attempts at them in a row where luck plays a part, and refills between two attempts. */
const LAST_BINS = 2;
const CLOSES = 10;
const CLOSE_EVERY = 10;
/** Rounds of refills, one for each bin, in all; and without gain, where other numbers of pieces may be tried next. */
const MOST_ROUNDS = 150;
const IDLE_ROUNDS = 4;
/** Many bins are given up where they waste so much more than they may, or where so many rounds like the last would be needed. */
const MANY_BINS = 200;
const HOPELESS = 2;
const PROMISING_ROUNDS = 12;
/** Fewer bins are left to other packers, and so are more entries than memory is given to. */
const LEAST_BINS = 12;
const MOST_ENTRIES = 8_000_000;

/**
 * Packs into given numbers of pieces by filling: bin after bin gets the rails, of some drawn from all that are left, that fill
 * it best of all ways; then two bins at a time are filled again with their own rails and some of those left over, so that
 * what is wasted in all becomes less and less, until the last bins hold what is left over. A failed attempt proves nothing.
 */
export class Refiller {
  readonly #instance: Instance;
  readonly #work: EndingWork;
  readonly #subset = new Subset();
  readonly #types: BinType[] = [];
  /** By bin: places it has for rails, the items there, how many, and what is wasted. */
  readonly #most: number;
  #items = new Int32Array(0);
  #count = new Int32Array(0);
  #waste = new Float64Array(0);
  /** Rails in no bin. */
  readonly #pool: RailPool;
  /** Rails that a bin may get, and their weights. */
  readonly #choice = new Int32Array(MOST_TOGETHER);
  readonly #weights = new Float64Array(MOST_TOGETHER);
  readonly #others = new Int32Array(MOST_TOGETHER);

  constructor(instance: Instance, random: () => number, work: EndingWork) {
    this.#instance = instance;
    this.#work = work;
    this.#pool = new RailPool(instance.n, random);
    this.#most = Math.max(1, Math.floor(instance.largest / instance.weight[instance.n - 1]!));
  }

  /** By the last attempt, once all bins had been filled again one time. */
  wasted = 0;

  /** Whether so many bins are this packer's. */
  serves(bins: number): boolean {
    return !this.#instance.kinds && bins >= LEAST_BINS && bins * this.#most <= MOST_ENTRIES;
  }

  /** What the last attempt filled: patterns that waste little. */
  get filled(): readonly Filling[] {
    const wasted = Array.from(this.#types.keys()).filter((b) => this.#count[b]! > 0);
    wasted.sort((a, b) => this.#waste[a]! - this.#waste[b]!);
    return this.#fillings(wasted);
  }

  /** `patience`: rounds of refills without gain after which it is given up. */
  attempt(pieces: Float64Array, patience: number = IDLE_ROUNDS): Cutting[] | null {
    const slack = this.#begin(pieces);
    const last = this.#types.splice(this.#types.length - LAST_BINS);
    const bins = this.#types.length;
    if (slack < 0 || bins < 2) return null;
    let wasted = 0;
    for (let b = 0; b < bins; b++) {
      if (b % LOOK === 0) {
        if (this.#work.over()) return null;
        this.#pool.look(bins + LAST_BINS - b);
      }
      this.#fill(b);
      wasted += this.#waste[b]!;
    }
    let [idle, less] = [0, Infinity];
    for (let round = 0; round < MOST_ROUNDS && idle < patience && !this.#work.over(); round++) {
      if (round === 1) this.wasted = wasted;
      const hopeless = wasted > HOPELESS * slack || wasted - slack > PROMISING_ROUNDS * less;
      if (round > 0 && bins > MANY_BINS && hopeless) break;
      const before = wasted;
      for (let k = 0; k < bins; k++) {
        if (k % CLOSE_EVERY === 0 && wasted <= slack) {
          const plan = this.#close(last);
          if (plan) return plan;
        }
        wasted -= this.#again();
      }
      less = before - wasted;
      idle = less > 0 ? 0 : idle + 1;
    }
    return null;
  }

  /** Everything into the pool; what the pieces hold more than that. */
  #begin(pieces: Float64Array): number {
    const { n, demand, weight } = this.#instance;
    const bins = binsOf(this.#instance, pieces);
    this.#types.length = 0;
    let slack = 0;
    for (const { type, left } of bins) {
      slack += left * type.capacity;
      for (let k = 0; k < left; k++) this.#types.push(type);
    }
    const size = this.#types.length;
    if (this.#count.length < size) {
      this.#items = new Int32Array(size * this.#most);
      this.#count = new Int32Array(size);
      this.#waste = new Float64Array(size);
    }
    this.#count.fill(0);
    this.#pool.fill(demand);
    for (let i = 0; i < n; i++) slack -= demand[i]! * weight[i]!;
    return slack;
  }

  /** Mixes what is chosen from, so that both halves hold rails of every kind. */
  #mix(size: number): void {
    const [choice, weights] = [this.#choice, this.#weights];
    const { weight } = this.#instance;
    for (let e = size - 1; e > 0; e--) {
      const other = this.#pool.pick(e + 1);
      const item = choice[e]!;
      choice[e] = choice[other]!;
      choice[other] = item;
    }
    for (let e = 0; e < size; e++) weights[e] = weight[choice[e]!]!;
  }

  #fill(bin: number): void {
    const size = this.#pool.drawEvenly(this.#choice, TOGETHER);
    this.#mix(size);
    const room = this.#types[bin]!.capacity;
    this.#waste[bin] = room - this.#subset.best(this.#weights, size, room);
    this.#put(bin, size);
    this.#spend();
  }

  /** Puts what fills best into the bin, and the rest back into the pool. */
  #put(bin: number, size: number): void {
    for (let e = 0; e < size; e++) {
      if (this.#subset.holds(e)) this.#add(bin, this.#choice[e]!);
      else this.#pool.put(this.#choice[e]!);
    }
  }

  #add(bin: number, item: number): void {
    this.#items[bin * this.#most + this.#count[bin]!++] = item;
  }

  #spend(): void {
    this.#work.spend(this.#subset.spent);
    this.#subset.spent = 0;
  }

  /** Some rails of a bin, drawn, stand last in it; how many, and their length is in `freed`. */
  #free(bin: number): number {
    const items = this.#items;
    const from = bin * this.#most;
    const count = this.#count[bin]!;
    const free = Math.min(count, FREED);
    for (let k = 0; k < free && free < count; k++) {
      const at = from + this.#pool.pick(count - k);
      const end = from + count - 1 - k;
      const item = items[at]!;
      items[at] = items[end]!;
      items[end] = item;
    }
    return free;
  }

  /** Takes the last rails of a bin to choose from; the room that they and the waste leave. */
  #take(bin: number, free: number, size: number): number {
    const { weight } = this.#instance;
    let room = this.#waste[bin]!;
    for (let k = 0; k < free; k++) {
      const item = this.#items[bin * this.#most + --this.#count[bin]!]!;
      this.#choice[size + k] = item;
      room += weight[item]!;
    }
    return room;
  }

  /** Fills two bins again, so that they waste no more than before; how much less. */
  #again(): number {
    const { weight } = this.#instance;
    const choice = this.#choice;
    const bins = this.#types.length;
    // Of some drawn that which wastes most, and any other.
    let a = this.#pool.pick(bins);
    for (let k = 1; k < DRAWN; k++) {
      const other = this.#pool.pick(bins);
      if (this.#waste[other]! > this.#waste[a]!) a = other;
    }
    let b = this.#pool.pick(bins - 1);
    if (b >= a) b++;
    const before = this.#waste[a]! + this.#waste[b]!;
    const [ownA, ownB] = [this.#free(a), this.#free(b)];
    const roomA = this.#take(a, ownA, 0);
    const roomB = this.#take(b, ownB, ownA);
    const own = ownA + ownB;
    const kept = this.#others;
    for (let e = 0; e < own; e++) kept[e] = choice[e]!;
    const size = this.#pool.draw(choice, own, Math.min(MOST_TOGETHER, Math.max(own + OTHERS, TOGETHER)));
    const drawn = size - own;
    for (let e = own; e < size; e++) kept[e] = choice[e]!;
    this.#mix(size);
    const wasteA = roomA - this.#subset.best(this.#weights, size, roomA);
    let rest = 0;
    const countA = this.#count[a]!;
    for (let e = 0; e < size; e++) {
      if (this.#subset.holds(e)) this.#add(a, choice[e]!);
      else choice[rest++] = choice[e]!;
    }
    for (let e = 0; e < rest; e++) this.#weights[e] = weight[choice[e]!]!;
    const wasteB = roomB - this.#subset.best(this.#weights, rest, roomB);
    this.#spend();
    if (wasteA + wasteB > before) {
      this.#count[a] = countA;
      for (let e = 0; e < own; e++) this.#add(e < ownA ? a : b, kept[e]!);
      for (let e = own; e < own + drawn; e++) this.#pool.put(kept[e]!);
      return 0;
    }
    this.#put(b, rest);
    this.#waste[a] = wasteA;
    this.#waste[b] = wasteB;
    return before - wasteA - wasteB;
  }

  /** Fills the last bins with all rails left: each but the last as full as it can be, of some drawn; answers the plan. */
  #close(last: readonly BinType[]): Cutting[] | null {
    const fillings: Filling[] = [];
    for (let tries = this.#pool.size > MOST_TOGETHER ? CLOSES : 1; tries > 0; tries--) {
      fillings.length = 0;
      for (const type of last) {
        const size = this.#pool.draw(this.#choice, 0, MOST_TOGETHER);
        this.#mix(size);
        this.#subset.best(this.#weights, size, type.capacity);
        const taken: number[] = [];
        for (let e = 0; e < size; e++) {
          const item = this.#choice[e]!;
          if (this.#subset.holds(e)) taken.push(item);
          else this.#pool.put(item);
        }
        fillings.push(fillingOf(type, taken, 1));
      }
      this.#spend();
      if (this.#pool.size === 0)
        return assemble(this.#instance, [...this.#fillings(this.#types.keys()), ...fillings]);
      for (const { fill } of fillings)
        for (let e = 0; e < fill.items.length; e++)
          for (let k = 0; k < fill.counts[e]!; k++) this.#pool.put(fill.items[e]!);
    }
    return null;
  }

  /** Equal fillings are one. */
  #fillings(bins: Iterable<number>): Filling[] {
    const found = new Map<string, Filling>();
    for (const bin of bins) {
      const type = this.#types[bin]!;
      const from = bin * this.#most;
      const items = [...this.#items.subarray(from, from + this.#count[bin]!)].sort((a, b) => a - b);
      const key = `${type.group}/${type.segment}:${items.join()}`;
      const known = found.get(key);
      found.set(key, known ? { ...known, times: known.times + 1 } : fillingOf(type, items, 1));
    }
    return [...found.values()];
  }
}

function fillingOf(type: BinType, items: readonly number[], times: number): Filling {
  const counts = new Map<number, number>();
  for (const i of items) counts.set(i, (counts.get(i) ?? 0) + 1);
  const sorted = [...counts.keys()].sort((a, b) => a - b);
  return {
    type,
    fill: { items: Int32Array.from(sorted), counts: Int32Array.from(sorted, (i) => counts.get(i)!) },
    times,
  };
}
