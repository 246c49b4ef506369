/**
 * A division while it is searched: sticks with their rails, the run each is cut in, and what that costs. Counts are kept
 * up to date as sticks and rails move, so that a step costs as much as it touches.
 */
import type { Turns } from '../sawing.js';

/** One physical stick as the search moves it about. */
export interface LooseStick {
  /** Items in cutting order, with how many of each. */
  readonly items: readonly number[];
  readonly counts: readonly number[];
  /** What its rails may weigh, where they may change places with another stick's; −1 where they may not. */
  readonly capacity: number;
}

/** What a run too full, and a pair or ring parted, weigh against a stop set. */
const OVERFULL = 2;
/** What a visit, and one more stick begun, weigh: less than any stop set. */
export const VISIT = 0.3;
const BEGUN = 0.005;
/** And a pair or ring on several sticks: handy where it is none, and what ties sticks together. */
export const SPLIT = 0.15;

/** Parts of a stick's rails, lightest first: how many of each of its items, part after part. */
export interface Loads {
  readonly weights: Float64Array;
  readonly taken: Uint16Array;
}

/** Parts of one stick listed at most. */
const LOADS = 128;
/** Sticks whose parts are remembered, by what they hold: some 3 kB each. */
const LOADS_KNOWN = 8_192;

function loadsOf(items: readonly number[], counts: readonly number[], weights: readonly number[]): Loads {
  const width = items.length;
  let size = 1;
  for (const count of counts) size = Math.min(LOADS, size * (count + 1));
  const all = new Uint16Array(size * width);
  // A part's weight and its place in one number, so that they are sorted together.
  const keys = new Float64Array(size);
  let weight = 0;
  for (let k = 1; k < size; k++) {
    const [at, before] = [k * width, (k - 1) * width];
    for (let i = 0; i < width; i++) all[at + i] = all[before + i]!;
    let i = 0;
    while (all[at + i] === counts[i]) {
      weight -= weights[items[i]!]! * counts[i]!;
      all[at + i] = 0;
      i += 1;
    }
    all[at + i]! += 1;
    weight += weights[items[i]!]!;
    keys[k] = weight * LOADS + k;
  }
  keys.sort();
  const taken = new Uint16Array(size * width);
  for (let k = 0; k < size; k++) {
    const from = keys[k]! % LOADS;
    keys[k] = (keys[k]! - from) / LOADS;
    for (let i = 0; i < width; i++) taken[k * width + i] = all[from * width + i]!;
  }
  return { weights: keys, taken };
}

export class DivisionState {
  readonly turns: Turns;
  readonly weights: readonly number[];
  readonly bench: number;
  /** By stick. */
  readonly items: (readonly number[])[];
  readonly counts: (readonly number[])[];
  readonly capacity: readonly number[];
  readonly load: number[];
  readonly run: Int32Array;
  readonly #place: Int32Array;
  readonly #loads: (Loads | null)[];
  readonly #loadsKnown = new Map<string, Loads>();
  /** By run. */
  readonly members: number[][] = [];
  /** By run and stop: sticks. By run and item: how many, of items that belong together. */
  readonly #atStop: Int32Array[] = [];
  readonly #ofItem: Int32Array[] = [];
  readonly #peak: number[] = [];
  /** Runs with an odd number of the smaller bundle, of items that serve two sizes. */
  readonly #odd: Int32Array;
  readonly #change: Int32Array;
  readonly #whole: Uint8Array;
  moves = 0;
  visits = 0;
  parted = 0;
  over = 0;
  begun = 0;
  /** Items of which a stick holds an odd pair or ring: they tie it to others. */
  split = 0;
  /** What a pair or ring parted weighs against a stop set. */
  price = 1.5;

  constructor(turns: Turns, weights: readonly number[], sticks: readonly LooseStick[], bench: number) {
    this.turns = turns;
    this.weights = weights;
    this.bench = bench;
    this.items = sticks.map(({ items }) => items);
    this.counts = sticks.map(({ counts }) => counts);
    this.capacity = sticks.map(({ capacity }) => capacity);
    this.load = sticks.map((_, stick) => this.#weigh(stick));
    this.run = new Int32Array(sticks.length).fill(-1);
    this.#place = new Int32Array(sticks.length);
    this.#loads = sticks.map(() => null);
    this.#odd = new Int32Array(turns.together.length);
    this.#change = new Int32Array(turns.stopOf.length + 1);
    this.#whole = new Uint8Array(turns.stopOf.length);
  }

  #weigh(stick: number): number {
    const [items, counts] = [this.items[stick]!, this.counts[stick]!];
    let sum = 0;
    for (let i = 0; i < items.length; i++) sum += this.weights[items[i]!]! * counts[i]!;
    return sum;
  }

  get energy(): number {
    return (
      this.moves +
      this.price * this.parted +
      OVERFULL * this.over +
      VISIT * this.visits +
      SPLIT * this.split +
      BEGUN * this.begun
    );
  }

  /** Whether every run keeps to the bench and holds whole pairs and rings. */
  get sound(): boolean {
    return this.parted === 0 && this.over === 0;
  }

  /** Gives the number of a new run. */
  open(): number {
    this.members.push([]);
    this.#atStop.push(new Int32Array(this.turns.weight.length));
    this.#ofItem.push(new Int32Array(this.turns.together.length));
    this.#peak.push(0);
    return this.members.length - 1;
  }

  sticksAt(run: number, stop: number): number {
    return this.#atStop[run]![stop]!;
  }

  /** A run, from `begin` on, that sets this stop and is not the stick's own; −1: none. */
  otherRunAt(stick: number, stop: number, begin: number): number {
    const runs = this.members.length;
    for (let i = 0; i < runs; i++) {
      const run = (begin + i) % runs;
      if (run !== this.run[stick] && this.sticksAt(run, stop) > 0) return run;
    }
    return -1;
  }

  ofItem(run: number, item: number): number {
    return this.#ofItem[run]![item]!;
  }

  stopOf(item: number): number {
    return this.turns.stopOf[this.turns.turnOf[item]!]!;
  }

  #count(run: number, stick: number, sign: 1 | -1): void {
    const { together, loose, weight, turnOf, stopOf } = this.turns;
    const [items, counts] = [this.items[stick]!, this.counts[stick]!];
    const [atStop, ofItem] = [this.#atStop[run]!, this.#ofItem[run]!];
    let last = -1;
    let lastTurn = -1;
    for (let i = 0; i < items.length; i++) {
      const item = items[i]!;
      const turn = turnOf[item]!;
      const stop = stopOf[turn]!;
      if (turn !== lastTurn) this.visits += sign;
      lastTurn = turn;
      if (stop !== last) {
        last = stop;
        const before = atStop[stop]!;
        atStop[stop] = before + sign;
        if (before === 0) this.moves += weight[stop]!;
        else if (before + sign === 0) this.moves -= weight[stop]!;
      }
      const bundle = together[item]!;
      if (bundle === 1 && loose[item]! < 0) continue;
      if (counts[i]! % bundle !== 0) this.split += sign;
      const before = ofItem[item]!;
      const after = before + sign * counts[i]!;
      ofItem[item] = after;
      this.parted += Number(after % bundle !== 0) - Number(before % bundle !== 0);
      if (loose[item]! < 0) continue;
      const odd = this.#odd[item]!;
      const now =
        odd + Number(Math.floor(after / bundle) % 2 === 1) - Number(Math.floor(before / bundle) % 2 === 1);
      this.#odd[item] = now;
      this.parted += Math.max(0, now - loose[item]!) - Math.max(0, odd - loose[item]!);
    }
  }

  add(stick: number, run: number): void {
    this.run[stick] = run;
    this.#place[stick] = this.members[run]!.push(stick) - 1;
    this.#count(run, stick, 1);
  }

  remove(stick: number): void {
    const run = this.run[stick]!;
    const members = this.members[run]!;
    const last = members.pop()!;
    if (last !== stick) {
      members[this.#place[stick]!] = last;
      this.#place[last] = this.#place[stick]!;
    }
    this.run[stick] = -1;
    this.#count(run, stick, -1);
  }

  /** Only while the stick is in no run. */
  refill(stick: number, items: readonly number[], counts: readonly number[]): void {
    this.items[stick] = items;
    this.counts[stick] = counts;
    this.load[stick] = this.#weigh(stick);
    this.#loads[stick] = null;
  }

  /** Spares listing the parts of a stick again that holds what it held before. */
  knownLoads(stick: number, loads: Loads): void {
    this.#loads[stick] = loads;
  }

  /** Every part of what a stick holds, by weight. */
  loads(stick: number): Loads {
    const known = this.#loads[stick];
    if (known != null) return known;
    const [items, counts] = [this.items[stick]!, this.counts[stick]!];
    let key = '';
    for (let i = 0; i < items.length; i++) key += `${items[i]!}x${counts[i]!} `;
    let found = this.#loadsKnown.get(key);
    if (found === undefined) {
      found = loadsOf(items, counts, this.weights);
      if (this.#loadsKnown.size >= LOADS_KNOWN) this.#loadsKnown.clear();
      this.#loadsKnown.set(key, found);
    }
    this.#loads[stick] = found;
    return found;
  }

  /** Counts a run's sticks begun at once anew; gives what it was before. */
  settle(run: number): number {
    const before = this.#peak[run]!;
    this.resettle(run, this.#begunIn(run));
    return before;
  }

  resettle(run: number, peak: number): void {
    const before = this.#peak[run]!;
    this.#peak[run] = peak;
    this.begun += peak - before;
    this.over += Math.max(0, peak - this.bench) - Math.max(0, before - this.bench);
  }

  /** As `begunMost`, without allocation. */
  #begunIn(run: number): number {
    const [change, whole] = [this.#change, this.#whole];
    const { turnOf } = this.turns;
    const places = whole.length;
    let [low, high] = [places, -1];
    for (const stick of this.members[run]!) {
      const items = this.items[stick]!;
      if (items.length === 0) continue;
      const [first, last] = [turnOf[items[0]!]!, turnOf[items[items.length - 1]!]!];
      if (first < low) low = first;
      if (last > high) high = last;
      if (first === last) whole[first] = 1;
      else {
        change[first]! += 1;
        change[last + 1]! -= 1;
      }
    }
    let [open, most] = [0, 0];
    for (let turn = low; turn <= high; turn++) {
      open += change[turn]!;
      const here = open + whole[turn]!;
      if (here > most) most = here;
      change[turn] = 0;
      whole[turn] = 0;
    }
    if (high >= 0) change[high + 1] = 0;
    return most;
  }
}
