import { type Column, type Cutting, columnOf, type Fill, fillOf } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { BIN_NODES_A_UNIT, PACKED_A_UNIT, UNCOUNTED, type Work } from '../instance/watch.js';
import { type BinType, closePack, type Filling } from './close-pack.js';

/** Tries at one bin before its best filling is taken. */
const TRIES = 12;
/** Share of a bin's part of the slack that it may waste, least and most, drawn anew for each attempt. */
const THRIFT = [0.3, 1] as const;
/** Bins left from which on the exact search takes over. */
const LAST_BINS = 4;
/** Lengths up to which all triples are looked at. */
const FEW = 160;
const CLOSE_NODES = 20_000;

/**
 * Packs everything into a given number of pieces of each group, by building: bin after bin gets the largest item left,
 * then items drawn by how many are left of them, then the one, two or three that fill it best; the last few bins are
 * filled by exact search. It does best where many lengths fill a stick in many ways and little may be wasted, which is
 * where column generation takes long. A failed attempt proves nothing.
 */
export class Packer {
  private readonly rest: Int32Array;
  private readonly taken: Int32Array;
  private readonly best: Int32Array;
  private readonly pool: Int32Array;
  private poolSize = 0;
  private count = 0;
  private missing = 0;
  private first = 0;
  private pairHigh = -1;
  private pairLow = -1;

  constructor(
    private readonly instance: Instance,
    private readonly random: () => number,
    private readonly work: Work = UNCOUNTED,
  ) {
    this.rest = new Int32Array(instance.n);
    this.taken = new Int32Array(instance.n);
    this.best = new Int32Array(instance.n);
    this.pool = new Int32Array(instance.n);
  }

  /** One attempt; null when it failed. Not for problems with kinds. */
  attempt(pieces: Float64Array): Cutting[] | null {
    const { instance, rest } = this;
    if (instance.kinds) return null;
    rest.set(instance.demand);
    this.count = 0;
    this.missing = 0;
    this.first = 0;
    for (let i = 0; i < instance.n; i++) {
      this.count += rest[i]!;
      this.missing += rest[i]! * instance.weight[i]!;
    }
    const types = binsOf(instance, pieces);
    let slack = -this.missing;
    let bins = 0;
    for (const { type, left } of types) {
      slack += type.capacity * left;
      bins += left;
    }
    const thrift = THRIFT[0] + (THRIFT[1] - THRIFT[0]) * this.random();
    const fillings: Filling[] = [];
    for (const entry of types) {
      while (entry.left > 0 && this.count > 0) {
        if (bins <= LAST_BINS) {
          const { fillings: closed, nodes } = closePack(instance, rest, types, slack, CLOSE_NODES);
          this.work.spend(nodes / BIN_NODES_A_UNIT);
          return closed ? assemble(instance, [...fillings, ...closed]) : null;
        }
        const allowed = (thrift * slack) / bins;
        const waste = this.fillBin(entry.type.capacity, allowed);
        this.work.spend(instance.n / PACKED_A_UNIT);
        const times = waste > allowed ? 1 : this.timesOf(Math.min(entry.left, bins - LAST_BINS));
        slack -= waste * times;
        if (slack < 0) return null;
        for (let i = 0; i < instance.n; i++) {
          const made = this.best[i]! * times;
          rest[i]! -= made;
          this.count -= made;
          this.missing -= made * instance.weight[i]!;
        }
        fillings.push({ type: entry.type, fill: fillOf(this.best), times });
        entry.left -= times;
        bins -= times;
      }
    }
    return this.count === 0 ? assemble(instance, fillings) : null;
  }

  /** A good filling may be cut again, but only up to half of what is left, so that the mix stays. */
  private timesOf(most: number): number {
    let times = most;
    for (let i = 0; i < this.instance.n; i++) {
      const c = this.best[i]!;
      if (c > 0) times = Math.min(times, Math.floor(this.rest[i]! / c / 2));
    }
    return Math.max(1, times);
  }

  /** Fills one bin (counts in `best`); answers what it wastes. */
  private fillBin(capacity: number, allowed: number): number {
    const { n, weight } = this.instance;
    const { rest, taken, best } = this;
    while (this.first < n && rest[this.first] === 0) this.first++;
    let least = Infinity;
    const mean = this.missing / this.count;
    for (let t = 0; t < TRIES && least > allowed; t++) {
      taken.fill(0);
      let room = capacity;
      const take = (i: number): void => {
        taken[i]!++;
        room -= weight[i]!;
      };
      const lead = t < TRIES / 2 ? this.leader(room) : this.draw(room);
      if (lead >= 0) take(lead);
      while (room > 3.3 * mean) {
        const i = this.draw(room);
        if (i < 0) break;
        take(i);
      }
      room -= this.complete(room, allowed);
      if (room < least) {
        least = room;
        best.set(taken);
      }
    }
    return least;
  }

  private leader(room: number): number {
    const { n, weight } = this.instance;
    for (let i = this.first; i < n; i++) if (this.rest[i]! > 0 && weight[i]! <= room) return i;
    return -1;
  }

  /** An item that fits, drawn by how many are left of it. */
  private draw(room: number): number {
    const { n, weight } = this.instance;
    const { rest, taken } = this;
    let total = 0;
    for (let i = this.first; i < n; i++) if (weight[i]! <= room) total += rest[i]! - taken[i]!;
    if (total <= 0) return -1;
    let at = Math.floor(this.random() * total);
    for (let i = this.first; i < n; i++) {
      if (weight[i]! > room) continue;
      at -= rest[i]! - taken[i]!;
      if (at < 0) return i;
    }
    return -1;
  }

  /** Takes the one, two or three items that fill the room best; answers their length. */
  private complete(room: number, allowed: number): number {
    const { n, weight } = this.instance;
    const { rest, taken, pool } = this;
    let size = 0;
    for (let i = this.first; i < n; i++) if (rest[i]! > taken[i]! && weight[i]! <= room) pool[size++] = i;
    this.poolSize = size;
    if (size === 0) return 0;
    let best = weight[pool[0]!]!;
    let [a, b, c] = [pool[0]!, -1, -1];
    const pair = this.bestPair(0, room, best);
    if (pair > best) [best, a, b] = [pair, this.pairHigh, this.pairLow];
    const looks = size <= FEW ? size : FEW / 4;
    for (let look = 0; look < looks && room - best > allowed; look++) {
      const place = size <= FEW ? look : Math.floor(this.random() * size);
      const i = pool[place]!;
      taken[i]!++;
      const sum = weight[i]! + this.bestPair(place, room - weight[i]!, best - weight[i]!);
      taken[i]!--;
      if (sum > best) [best, a, b, c] = [sum, i, this.pairHigh, this.pairLow];
    }
    for (const i of [a, b, c]) if (i >= 0) taken[i]!++;
    return best;
  }

  /**
   * Greatest weight of two items from place `from` of the pool on that fit and weigh more than `floor`; −Infinity
   * when there are none. The pool stands heaviest first, so the partner's place only moves towards the front.
   */
  private bestPair(from: number, room: number, floor: number): number {
    const { weight } = this.instance;
    const { pool, poolSize, rest, taken } = this;
    let best = floor;
    let found = false;
    for (let high = from, partner = poolSize; high < partner || high < poolSize; high++) {
      const i = pool[high]!;
      const a = weight[i]!;
      while (partner > high && a + weight[pool[partner - 1]!]! <= room) partner--;
      const spare = rest[i]! - taken[i]!;
      for (let low = partner; spare > 0 && low < poolSize; low++) {
        const j = pool[low]!;
        const sum = a + weight[j]!;
        if (sum <= best) break;
        if (rest[j]! - taken[j]! < (i === j ? 2 : 1)) continue;
        [best, found, this.pairHigh, this.pairLow] = [sum, true, i, j];
        break;
      }
      if (partner <= high) break;
    }
    return found ? best : -Infinity;
  }
}

/** The bins that so many pieces of each group have, smallest first; those too short for any item are left out. */
export function binsOf(instance: Instance, pieces: Float64Array): { type: BinType; left: number }[] {
  const least = instance.weight[instance.n - 1]!;
  const bins: { type: BinType; left: number }[] = [];
  instance.groups.forEach((group, s) => {
    if (pieces[s] === 0) return;
    group.segments.forEach((capacity, segment) => {
      if (capacity >= least) bins.push({ type: { group: s, segment, capacity }, left: pieces[s]! });
    });
  });
  return bins.sort((a, b) => a.type.capacity - b.type.capacity);
}

/** Fillings as cuttings: a piece takes the next filling of each of its segments. */
export function assemble(instance: Instance, fillings: readonly Filling[]): Cutting[] {
  const lists = new Map<number, [Fill, number][][]>();
  for (const { type, fill, times } of fillings) {
    const list = lists.get(type.group) ?? Array.from(instance.groups[type.group]!.segments, () => []);
    lists.set(type.group, list);
    list[type.segment]!.push([fill, times]);
  }
  const empty: Fill = { items: new Int32Array(0), counts: new Int32Array(0) };
  const plan: Cutting[] = [];
  for (const [group, segments] of lists) {
    const at = segments.map(() => ({ entry: 0, used: 0 }));
    for (;;) {
      let times = Infinity;
      segments.forEach((list, k) => {
        const entry = list[at[k]!.entry];
        if (entry) times = Math.min(times, entry[1] - at[k]!.used);
      });
      if (times === Infinity) break;
      const parts = segments.map((list, k) => list[at[k]!.entry]?.[0] ?? empty);
      const column: Column = columnOf(instance.n, group, parts);
      plan.push({ column, times });
      segments.forEach((list, k) => {
        const entry = list[at[k]!.entry];
        if (!entry) return;
        at[k]!.used += times;
        if (at[k]!.used === entry[1]) at[k] = { entry: at[k]!.entry + 1, used: 0 };
      });
    }
  }
  return plan;
}
