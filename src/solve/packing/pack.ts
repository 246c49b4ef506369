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
/** The same where another few bins can be tried instead. */
const REPAIR_NODES = 3_000;
/** Bins emptied again after a failure, least and most; where more than such a share of all is empty it is left at that. */
const EMPTIED = [2, 4] as const;
const REPAIRED = 0.4;

/** A plan on its way; the rails left are the bin filler's. */
interface PackedSoFar {
  readonly types: { readonly type: BinType; left: number }[];
  readonly fillings: Filling[];
  bins: number;
  slack: number;
  count: number;
  missing: number;
}

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

  /**
   * One attempt; null when it failed. Not for problems with kinds. Where it fails near its end, a few pieces are emptied
   * again, so many times, and filled otherwise (large neighbourhood search; Shaw 1998).
   */
  attempt(pieces: Float64Array, repairs = 0): Cutting[] | null {
    const instance = this.#instance;
    if (instance.kinds) return null;
    this.#bin.rest.set(instance.demand);
    const state: PackedSoFar = {
      types: binsOf(instance, pieces),
      fillings: [],
      bins: 0,
      slack: 0,
      count: 0,
      missing: 0,
    };
    for (const { type, left } of state.types) {
      state.slack += type.capacity * left;
      state.bins += left;
    }
    for (let i = 0; i < instance.n; i++) {
      state.count += instance.demand[i]!;
      state.missing += instance.demand[i]! * instance.weight[i]!;
    }
    state.slack -= state.missing;
    const all = state.bins;
    for (let k = 0; ; k++) {
      this.short = 0;
      this.#bin.begin();
      const plan = this.#fillAll(state, all, repairs > 0 ? REPAIR_NODES : CLOSE_NODES);
      if (plan !== null || k >= repairs || state.bins > all * REPAIRED) return plan;
      this.#empty(state);
    }
  }

  /** Fills what is empty; null where the last bins cannot be filled, or too much has been wasted. */
  #fillAll(state: PackedSoFar, all: number, closeNodes: number): Cutting[] | null {
    const instance = this.#instance;
    const { rest, best } = this.#bin;
    const thrift = THRIFT[0] + (THRIFT[1] - THRIFT[0]) * this.#random();
    for (const entry of state.types) {
      while (entry.left > 0 && state.count > 0) {
        if (state.bins <= LAST_BINS) {
          const { fillings, nodes } = closePack(instance, rest, state.types, state.slack, closeNodes);
          this.#work.spend(nodes / BIN_NODES_A_UNIT);
          return fillings ? assemble(instance, [...state.fillings, ...fillings]) : null;
        }
        const allowed = (thrift * state.slack) / state.bins;
        const waste = this.#bin.fill(entry.type.capacity, allowed, state.missing / state.count, STARTS);
        this.#work.spend(instance.n / PACKED_A_UNIT);
        const times = waste > allowed ? 1 : this.#timesOf(Math.min(entry.left, state.bins - LAST_BINS));
        if (state.slack - waste * times < 0) {
          this.short = state.bins / all;
          return null;
        }
        state.fillings.push({ type: entry.type, fill: fillOf(best), times });
        this.#take(state, best, times, waste);
        this.#bin.look();
        entry.left -= times;
      }
    }
    return state.count === 0 ? assemble(instance, state.fillings) : null;
  }

  /** So many bins of these rails filled; fewer than none: emptied. */
  #take(state: PackedSoFar, rails: Int32Array, times: number, waste: number): void {
    const { rest } = this.#bin;
    const { n, weight } = this.#instance;
    for (let i = 0; i < n; i++) {
      if (rails[i] === 0) continue;
      const made = rails[i]! * times;
      rest[i]! -= made;
      state.count -= made;
      state.missing -= made * weight[i]!;
    }
    state.slack -= waste * times;
    state.bins -= times;
  }

  /** Empties a few bins at random, so that the next ones are not only the last. */
  #empty(state: PackedSoFar): void {
    const { n, weight } = this.#instance;
    const rails = new Int32Array(n);
    const wanted = EMPTIED[0] + Math.floor(this.#random() * (EMPTIED[1] - EMPTIED[0] + 1));
    for (let k = 0; k < wanted && state.fillings.length > 0; k++) {
      const at = Math.floor(this.#random() * state.fillings.length);
      const { type, fill, times } = state.fillings[at]!;
      if (times > 1) state.fillings[at] = { type, fill, times: times - 1 };
      else state.fillings.splice(at, 1);
      rails.fill(0);
      let waste = type.capacity;
      fill.items.forEach((i, e) => {
        rails[i] = fill.counts[e]!;
        waste -= fill.counts[e]! * weight[i]!;
      });
      this.#take(state, rails, -1, waste);
      state.types.find((entry) => entry.type === type)!.left += 1;
    }
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
