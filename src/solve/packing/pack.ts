import { type Column, type Cutting, columnOf, type Fill, fillOf } from '../columns/columns.js';
import type { Instance } from '../instance/instance.js';
import { BIN_NODES_A_UNIT, PACKED_A_UNIT, UNCOUNTED, type Work } from '../instance/watch.js';
import { BinFiller, type Start } from './bin.js';
import { type BinType, closePack, type Filling } from './close-pack.js';

/** The largest item first, then drawn ones first; the best filling of all is taken. */
const STARTS: readonly Start[] = Array.from({ length: 12 }, (_, k) => ({
  first: k < 6 ? 'largest' : 'drawn',
  parted: true,
}));
/** Share of a bin's part of the slack that it may waste, least and most, drawn anew for each attempt. */
const THRIFT = [0.3, 1] as const;
/** Bins left from which on the exact search takes over. */
const LAST_BINS = 4;
const CLOSE_NODES = 20_000;

/**
 * Packs everything into a given number of pieces of each group, by building: bin after bin gets the largest item left,
 * then items drawn by how many are left of them, then the one, two or three that fill it best; the last few bins are
 * filled by exact search. It does best where many lengths fill a stick in many ways and little may be wasted, which is
 * where column generation takes long. A failed attempt proves nothing.
 */
export class Packer {
  readonly #instance: Instance;
  readonly #bin: BinFiller;
  readonly #random: () => number;
  readonly #work: Work;

  constructor(instance: Instance, random: () => number, work: Work = UNCOUNTED) {
    const { n, weight } = instance;
    const item = Int32Array.from({ length: n }, (_, i) => i);
    const units = { weight, item, rails: new Int32Array(n).fill(1), half: new Uint8Array(n) };
    this.#instance = instance;
    this.#bin = new BinFiller(units, n, random);
    this.#random = random;
    this.#work = work;
  }

  /** Share of the pieces that the last attempt, failing, left without a filling. */
  short = 0;

  /** One attempt; null when it failed. Not for problems with kinds. */
  attempt(pieces: Float64Array): Cutting[] | null {
    const instance = this.#instance;
    if (instance.kinds) return null;
    const { rest, best } = this.#bin;
    rest.set(instance.demand);
    this.#bin.begin();
    let [count, missing] = [0, 0];
    for (let i = 0; i < instance.n; i++) {
      count += rest[i]!;
      missing += rest[i]! * instance.weight[i]!;
    }
    const types = binsOf(instance, pieces);
    let slack = -missing;
    let bins = 0;
    for (const { type, left } of types) {
      slack += type.capacity * left;
      bins += left;
    }
    const thrift = THRIFT[0] + (THRIFT[1] - THRIFT[0]) * this.#random();
    const fillings: Filling[] = [];
    const all = bins;
    this.short = 0;
    for (const entry of types) {
      while (entry.left > 0 && count > 0) {
        if (bins <= LAST_BINS) {
          const { fillings: closed, nodes } = closePack(instance, rest, types, slack, CLOSE_NODES);
          this.#work.spend(nodes / BIN_NODES_A_UNIT);
          return closed ? assemble(instance, [...fillings, ...closed]) : null;
        }
        const allowed = (thrift * slack) / bins;
        const waste = this.#bin.fill(entry.type.capacity, allowed, missing / count, STARTS);
        this.#work.spend(instance.n / PACKED_A_UNIT);
        const times = waste > allowed ? 1 : this.#timesOf(Math.min(entry.left, bins - LAST_BINS));
        slack -= waste * times;
        if (slack < 0) {
          this.short = bins / all;
          return null;
        }
        for (let i = 0; i < instance.n; i++) {
          if (best[i] === 0) continue;
          const made = best[i]! * times;
          rest[i]! -= made;
          count -= made;
          missing -= made * instance.weight[i]!;
        }
        this.#bin.look();
        fillings.push({ type: entry.type, fill: fillOf(best), times });
        entry.left -= times;
        bins -= times;
      }
    }
    return count === 0 ? assemble(instance, fillings) : null;
  }

  /** A good filling may be cut again, but only up to half of what is left, so that the mix stays. */
  #timesOf(most: number): number {
    const { rest, best } = this.#bin;
    let times = most;
    for (let i = 0; i < this.#instance.n; i++) {
      if (best[i]! > 0) times = Math.min(times, Math.floor(rest[i]! / best[i]! / 2));
    }
    return Math.max(1, times);
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
